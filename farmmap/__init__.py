"""farmmap: a map of a farm's trees, and the figures that a grower decides by.

What a script needs can be imported from here; nothing here brings in Qt.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from farmmap.errors import FarmmapError
    from farmmap.farm.edits import Edit
    from farmmap.farm.farm import Farm, Settings, new_farm
    from farmmap.figures.blocks import block_figures
    from farmmap.figures.catalogue import explain
    from farmmap.figures.margins import margin_figures
    from farmmap.figures.trees import tree_figures
    from farmmap.figures.whole_farm import farm_figures
    from farmmap.files.bring import bring, read_source
    from farmmap.files.checks import check_farm
    from farmmap.files.farm_file import read_farm, write_edit, write_farm

__version__ = "0.1.0"

__all__ = [
    "Edit",
    "Farm",
    "FarmmapError",
    "Settings",
    "__version__",
    "block_figures",
    "bring",
    "check_farm",
    "explain",
    "farm_figures",
    "margin_figures",
    "new_farm",
    "read_farm",
    "read_source",
    "tree_figures",
    "write_edit",
    "write_farm",
]

_PLACES = {
    "FarmmapError": "errors",
    "Edit": "farm.edits",
    "Farm": "farm.farm",
    "Settings": "farm.farm",
    "new_farm": "farm.farm",
    "block_figures": "figures.blocks",
    "explain": "figures.catalogue",
    "margin_figures": "figures.margins",
    "tree_figures": "figures.trees",
    "farm_figures": "figures.whole_farm",
    "bring": "files.bring",
    "read_source": "files.bring",
    "check_farm": "files.checks",
    "read_farm": "files.farm_file",
    "write_edit": "files.farm_file",
    "write_farm": "files.farm_file",
}


def __getattr__(name: str) -> object:
    """Import on first use, so that ``import farmmap`` costs nothing."""
    if name in _PLACES:
        return getattr(importlib.import_module(f"farmmap.{_PLACES[name]}"), name)
    raise AttributeError(f"farmmap has no {name}")
