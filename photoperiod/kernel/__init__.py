"""The inner loops of the search for rows, compiled, for `photoperiod.setpoints`.

`_paths.c` is built where there is a compiler, and left out where there is none: then numpy does the
same work, and the same bytes come out. `which` says which of them is in use; `paths` calls it.
"""
