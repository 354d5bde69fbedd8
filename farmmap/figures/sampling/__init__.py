"""Sample plots: what each counts, what edges and slopes do to it, and what the counts say of a block."""
