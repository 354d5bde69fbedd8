"""What a farm holds: tables and their schema, the Farm value, edits, species, grids.

Imports nothing of farmmap but errors, progress and resource_files.
"""
