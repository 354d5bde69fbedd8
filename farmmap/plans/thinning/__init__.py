"""Thinnings: which trees are the crop, which neighbours go now, what stands then, and how the marks are handed on."""
