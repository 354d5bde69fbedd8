"""Room of trees: what their neighbours take of it, the ground that each has to itself, and how dense a block stands."""
