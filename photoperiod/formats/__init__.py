"""Files of our own: each format is written and read in one module.

`folder` is what `compile` writes, `table` reads every kind of export back, `atomic` puts files in
their place, `integrity` tells whether a file was changed.
"""
