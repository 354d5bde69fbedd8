"""Pruning: the lifts of a regime, which trees are due for which and when, and what has been pruned so far."""
