"""What changes a farm: drawing, reshaping, splitting, the tape.

Pure functions that propose edits; nothing here knows a window or a file.
"""
