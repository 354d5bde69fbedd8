"""Plans: what could be done on the farm, worked out before anything is changed."""
