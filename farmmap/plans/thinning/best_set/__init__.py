"""The best set of trees no two of which stand too close: conflicts, cliques, prices, and the sweep that finds it.

Trees are vertices, two that stand too close are joined, and wanted is the independent set of greatest weight. Prices
on cliques (trees of which any two are too close, so that at most one can be chosen) bound from above what any set can
be worth; the sweep goes over the trees from one side to the other and keeps, for each way in which the trees behind it
bar those before it, the worthiest choice so far, as long as the prices say that it can still become the best.
"""
