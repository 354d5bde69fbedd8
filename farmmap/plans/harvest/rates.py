"""Rates of interest that a grower may set; apart, as a form that asks for one needs nothing else of harvests."""

RATE_PERCENT = 5.0
"""Rate at which later money is brought back to today until the grower gives one: an example, nothing more. [%/year]"""
LEAST_RATE, MOST_RATE = 0.0, 30.0
