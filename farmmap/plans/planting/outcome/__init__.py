"""What follows from a planting: order, costs, work, cover and shade."""
