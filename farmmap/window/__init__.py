"""The window: the map, its key, the date line, the column of panels, dialogs, and work in the background.

May import every room but the commands; knows the panels only through their registry.
"""

import builtins

PLAIN_IMPORT = builtins.__import__
"""Python's own way to import; PySide6 puts its own in place of it, which makes pandas a third slower to bring in."""
