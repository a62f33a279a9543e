"""From a day curve to rows: the best table that fits a controller, and the proof that it is.

From the ground up: `work` and `tolerance`; `corridor`, `bound`, `cones`, `segments`, `least_squares`,
`held`, `columns` and `count_sets` search paths through gates; `single` and `shared` find the least
error; `single_fit`, `shared_fit` and `fine_times` make tables of it, behind `fit`.

The inner loops of `bound`, `cones`, `segments` and `least_squares` stand twice: in numpy here, and
compiled in `photoperiod.kernel`. Both give the same numbers; what is changed here is changed there.
"""
