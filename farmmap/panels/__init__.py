"""Panels: one folder each, beside what they share - the registry, the table, the charts and the working.

`registry` and each panel's own ``__init__`` bring in no Qt; views do, and are loaded when first shown.
"""
