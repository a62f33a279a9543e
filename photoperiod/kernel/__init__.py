"""The inner loops of the search for rows, compiled, for `photoperiod.setpoints`.

Its C files make one module, `_paths`, where there is a compiler; where there is none it is left out: then
numpy does the same work, and the same bytes come out. `which` says which of them is in use; `paths` calls
it.
"""
