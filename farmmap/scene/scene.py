"""A scene: everything that is to be painted, as plain data in ground metres and in millimetres of picture."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmmap.scene.sizes import GONE_MM, PLANNED_MM, UNMEASURED_MM, symbol_mm
from farmmap.scene.styles import AreaStyle, LineStyle, MarkStyle, TextStyle, Theme
from farmmap.scene.symbols import SpeciesSymbol
from farmmap.scene.view import Bounds, Floats

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

LAYER_NAMES = (
    "boundary",
    "blocks",
    "margins",
    "creeks",
    "fences",
    "tracks",
    "hazards",
    "trees",
    "crowns",
    "notes",
    "labels",
)
"""Names under which things are shown and hidden; one species alone is ``species:CODE``."""


@dataclass(frozen=True)
class Chosen:
    """What is picked out on the map.

    Attributes
    ----------
    kind : str
        ``tree``, ``block`` or ``margin``.
    id : int
        Id of the tree or block; place of the margin in the list of margins.
    """

    kind: str
    id: int


@dataclass(frozen=True, eq=False)
class AreaLayer:
    """Areas drawn alike.

    Attributes
    ----------
    name : str
        One of `LAYER_NAMES`.
    style : AreaStyle
        How they are drawn.
    ids : ndarray of int64, shape (n,)
        Which row each area comes from; a row of several parts has several.
    points : ndarray, shape (m, 2)
        Corners of all rings, one ring after the other. [m]
    rings : ndarray of int64, shape (r + 1,)
        Where each ring starts in ``points``.
    areas : ndarray of int64, shape (n + 1,)
        Where each area starts in ``rings``; its first ring is the outline, others are holes.
    boxes : ndarray, shape (n, 4)
        Smallest rectangle around each area. [m]
    """

    name: str
    style: AreaStyle
    ids: Ints
    points: Floats
    rings: Ints
    areas: Ints
    boxes: Floats


@dataclass(frozen=True, eq=False)
class LineLayer:
    """Lines drawn alike.

    Attributes
    ----------
    name, style, ids, points, boxes
        As for `AreaLayer`.
    lines : ndarray of int64, shape (n + 1,)
        Where each line starts in ``points``.
    widths_m : ndarray, shape (n,)
        True width on the ground, used where it is more than the style's own; 0 if none. [m]
    """

    name: str
    style: LineStyle
    ids: Ints
    points: Floats
    lines: Ints
    boxes: Floats
    widths_m: Floats


@dataclass(frozen=True, eq=False)
class MarkLayer:
    """Points drawn alike with one mark, such as notes.

    Attributes
    ----------
    name, style, ids
        As for `AreaLayer`.
    x, y : ndarray, shape (n,)
        Where they are. [m]
    """

    name: str
    style: MarkStyle
    ids: Ints
    x: Floats
    y: Floats


STANDING, UNMEASURED, GONE, PLANNED = range(4)
"""How a tree is drawn: in full; small and open; as a faint cross; as a dot."""


@dataclass(frozen=True)
class TreeGroup:
    """What trees that look alike have in common.

    Attributes
    ----------
    drawn_as : int
        `STANDING`, `UNMEASURED`, `GONE` or `PLANNED`.
    dbh_class_cm : float
        Middle of the diameter class; 0 where not measured. [cm]
    species : int
        Place in the layer's ``symbols``.
    """

    drawn_as: int
    dbh_class_cm: float
    species: int


@dataclass(frozen=True, eq=False)
class TreeLayer:
    """Trees, sorted by cell of ground so that a view takes slices of the arrays.

    Attributes
    ----------
    ids : ndarray of int64, shape (n,)
        Ids of the trees.
    x, y : ndarray, shape (n,)
        Where they stand. [m]
    group : ndarray of int16, shape (n,)
        Which of ``groups`` each belongs to.
    groups : tuple of TreeGroup
        Kinds of look, in the order of painting.
    crown_m : ndarray of float32, shape (n,)
        Crown diameter; 0 if not known or not standing. [m]
    symbols : tuple of SpeciesSymbol
        The species.
    shown : ndarray of bool, shape (len(symbols),)
        Which species are shown.
    cells : CellIndex
        Where each cell of ground starts in the arrays.
    places : ndarray of int64, shape (n,)
        Row of the farm's table of trees that each comes from.
    tags : Series
        What is written on the tags, for every tree of the farm.
    """

    ids: Ints
    x: Floats
    y: Floats
    group: NDArray[np.int16]
    groups: tuple[TreeGroup, ...]
    crown_m: NDArray[np.float32]
    symbols: tuple[SpeciesSymbol, ...]
    shown: Bools
    cells: CellIndex
    places: Ints
    tags: pd.Series
    name: str = "trees"

    def tags_of(self, which: Ints) -> list[str]:
        """Return what is written on some trees' tags, given their places in the layer."""
        return [str(tag) for tag in self.tags.iloc[self.places[which]]]

    def counts(self) -> Ints:
        """Return the number of trees of each group, shape (len(groups),)."""
        return np.bincount(self.group, minlength=len(self.groups))

    def sizes_mm(self, metres_per_mm: float) -> Floats:
        """Return the width of each group's symbol at a scale, shape (len(groups),). [mm]."""
        kinds = np.array([group.drawn_as for group in self.groups], np.int64)
        fixed = np.array([0.0, UNMEASURED_MM, GONE_MM, PLANNED_MM])[kinds]
        measured = symbol_mm([group.dbh_class_cm for group in self.groups], metres_per_mm)
        return np.where(kinds == STANDING, measured, fixed)

    def group_shown(self) -> Bools:
        """Return which groups are of a species that is shown, shape (len(groups),)."""
        return self.shown[np.array([group.species for group in self.groups], np.int64)]


@dataclass(frozen=True, eq=False)
class CellIndex:
    """Square cells of ground, row by row from the south-west.

    Attributes
    ----------
    west, south : float
        Corner of the first cell. [m]
    size_m : float
        Side of a cell. [m]
    columns, rows : int
        How many cells there are each way.
    starts : ndarray of int64, shape (columns * rows + 1,)
        Place of each cell's first tree.
    """

    west: float
    south: float
    size_m: float
    columns: int
    rows: int
    starts: Ints

    def slices(self, bounds: Bounds) -> list[tuple[int, int]]:
        """First and last-plus-one places of the runs of trees that may lie in ``bounds``, one run a row of cells."""
        west, south, east, north = bounds
        left = max(int((west - self.west) // self.size_m), 0)
        right = min(int((east - self.west) // self.size_m), self.columns - 1)
        low = max(int((south - self.south) // self.size_m), 0)
        high = min(int((north - self.south) // self.size_m), self.rows - 1)
        if left > right or low > high:
            return []
        if left == 0 and right == self.columns - 1:
            return [(int(self.starts[low * self.columns]), int(self.starts[(high + 1) * self.columns]))]
        row = np.arange(low, high + 1) * self.columns
        first, last = self.starts[row + left], self.starts[row + right + 1]
        return [(int(a), int(b)) for a, b in zip(first, last, strict=True) if b > a]


@dataclass(frozen=True, eq=False)
class CrownLayer:
    """Crowns of the standing trees at their true size, one even tint however many overlap."""

    trees: TreeLayer
    style: AreaStyle
    farthest_m_per_mm: float
    name: str = "crowns"


@dataclass(frozen=True, eq=False)
class Wording:
    """One thing to be named on the map.

    Attributes
    ----------
    text : str
        What is written.
    style : TextStyle
        How.
    importance : float
        Which gives way: the lower.
    points : ndarray, shape (n, 2)
        The line to write along, or for an area or point the one place to write at. [m]
    along : bool
        Whether it follows the line.
    room_m : float
        How much ground the thing covers across; it is not named where that is too little to see. [m]
    width_m : float
        True width of a line; it is named beside its edge, or between its edges where there is room. [m]
    farthest_m_per_mm : float
        It is named when a millimetre shows no more ground than this. [m]
    """

    text: str
    style: TextStyle
    importance: float
    points: Floats
    along: bool
    room_m: float
    width_m: float = 0.0
    farthest_m_per_mm: float = np.inf


@dataclass(frozen=True, eq=False)
class LabelLayer:
    """What is to be named; where each name goes is found for each view by `farmmap.scene.labels.place`.

    Attributes
    ----------
    wordings : tuple of Wording
        Most important first.
    tagged : TreeLayer or None
        Trees whose tags are written when the view is close.
    tag_style : TextStyle
        How tags are written.
    """

    wordings: tuple[Wording, ...]
    tagged: TreeLayer | None
    tag_style: TextStyle
    name: str = "labels"


@dataclass(frozen=True)
class TreeSample:
    """A tree symbol as it stands in the key."""

    symbol: SpeciesSymbol
    drawn_as: int = STANDING


@dataclass(frozen=True)
class TextSample:
    """A word of text as it stands in the key."""

    text: str
    style: TextStyle


Sample = AreaStyle | LineStyle | MarkStyle | TreeSample | TextSample
"""What a key shows in front of the words."""


@dataclass(frozen=True)
class KeyEntry:
    """One line of the key.

    Attributes
    ----------
    layer : str
        What it shows and hides: one of `LAYER_NAMES` or ``species:CODE``.
    words : str
        What it is called.
    sample : Sample
        What is drawn in front.
    count : int or None
        How many there are, where that says something.
    shown : bool
        Whether it is shown now.
    """

    layer: str
    words: str
    sample: Sample
    count: int | None
    shown: bool


Layer = AreaLayer | LineLayer | MarkLayer | TreeLayer | CrownLayer | LabelLayer


@dataclass(frozen=True, eq=False)
class Scene:
    """All that is to be painted, lowest layer first.

    Attributes
    ----------
    layers : tuple of Layer
        What is shown, in the order in which it is painted.
    key : tuple of KeyEntry
        Everything the farm has, shown or hidden.
    bounds : tuple of float or None
        Ground that the farm covers; None if nothing is drawn yet. [m]
    theme : Theme
        Colours and sizes.
    chosen : tuple of Layer
        What is picked out, painted over everything else.
    """

    layers: tuple[Layer, ...]
    key: tuple[KeyEntry, ...]
    bounds: Bounds | None
    theme: Theme
    chosen: tuple[Layer, ...] = field(default=())
