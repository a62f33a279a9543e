"""Tables on the controller's grid: fitting them and playing them. No files, no YAML, no schedule."""
