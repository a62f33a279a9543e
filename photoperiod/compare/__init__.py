"""Hold a log of what happened against what a table would have done."""
