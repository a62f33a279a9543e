"""From a day curve to rows: the best table that fits a controller, and the proof that it is.

From the ground up: `work` and `tolerance`; `segments`, `least_squares`, `held`, `columns` and
`count_sets` search paths through gates; `single` and `shared` find the least error; `single_fit`,
`shared_fit` and `fine_times` make tables of it, behind `fit`.

A compiled kernel for the cones of slopes (`segments.Reach`) will stand here beside the modules that
call it, as `kernel`.
"""
