"""The window: the map, its key, the date line, the column of panels, dialogs, and work in the background.

May import every room but the commands; knows the panels only through their registry.
"""

import farmmap.screen  # noqa: F401 - before PySide6, so that it knows Python's own way to import
