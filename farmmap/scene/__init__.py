"""Farm and style to a list of what is to be painted, in plain data; no Qt."""
