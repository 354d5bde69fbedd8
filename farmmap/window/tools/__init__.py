"""The map tools, one file each, and what they share: the bench that they work at, what is picked, what is painted."""
