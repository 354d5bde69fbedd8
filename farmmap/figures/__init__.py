"""Numbers from geometry and measurements: pure functions on arrays, and tables of figures made from a farm.

Imports nothing of farmmap but the farm, errors, progress and resource_files.
"""
