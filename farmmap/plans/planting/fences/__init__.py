"""The fence along a planting."""
