"""What a grower says about a planting, and the files it is read from."""
