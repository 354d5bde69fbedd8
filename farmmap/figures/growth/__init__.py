"""Growth of trees: what the tape says they put on, curves fitted to it, and when a tree is ready."""
