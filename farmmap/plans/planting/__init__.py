"""Plans of new plantings along a creek: ground, plants, fence, order, costs and what they will cover."""
