"""Checks on a compiled program, one file each; `registry` lists them and `run` runs them."""
