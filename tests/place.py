"""Where the small invented farms of tests and benchmarks lie."""

EAST, NORTH = 1_812_000.0, 5_478_000.0
"""A place on the New Zealand grid."""
