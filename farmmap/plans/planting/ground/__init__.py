"""Where a planting lies: a stretch of a creek, how wide its margin is, and the ground of its zones."""
