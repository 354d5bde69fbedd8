"""Planning a planting along a creek: the tool on the map, and its box beside it."""
