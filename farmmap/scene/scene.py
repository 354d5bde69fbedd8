"""A scene: everything that is to be painted, as plain data in ground metres and in millimetres of picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmmap.scene.cells import CellIndex
from farmmap.scene.raster_layer import RasterLayer
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
    "plots",
    "photo_points",
    "notes",
    "labels",
    "backdrops",
    "relief",
    "contours",
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
    shapes : ndarray of shapely Polygon, shape (n,)
        The areas. [m]
    boxes : ndarray, shape (n, 4)
        Smallest rectangle around each area. [m]
    """

    name: str
    style: AreaStyle
    ids: Ints
    shapes: np.ndarray
    boxes: Floats


@dataclass(frozen=True, eq=False)
class LineLayer:
    """Lines drawn alike.

    Attributes
    ----------
    name, style, ids, boxes
        As for `AreaLayer`.
    shapes : ndarray of shapely LineString, shape (n,)
        The lines. [m]
    widths_m : ndarray, shape (n,)
        True width on the ground, used where it is more than the style's own; 0 if none. [m]
    """

    name: str
    style: LineStyle
    ids: Ints
    shapes: np.ndarray
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
    turns_deg : ndarray, shape (n,), or None
        Which way each one looks, clockwise from grid north, nan for none; None for marks that look no way. [degrees]
    """

    name: str
    style: MarkStyle
    ids: Ints
    x: Floats
    y: Floats
    turns_deg: Floats | None = None


STANDING, UNMEASURED, GONE, PLANNED = range(4)
"""How a tree is drawn: in full; small and open; as a faint cross; as a dot."""

LEFT, CROP, TAKE = range(3)
"""What a tree is marked for, and so its sign over the symbol: none; a ring, as it is kept; a cross, as it goes."""


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
    """Trees, sorted by cell of ground so that a view takes slices of the arrays, and within a cell by group.

    Attributes
    ----------
    ids : ndarray of int64, shape (n,)
        Ids of the trees.
    x, y : ndarray, shape (n,)
        Where they stand. [m]
    x_near, y_near : ndarray of float32, shape (n,)
        The same from the corner of ``cells``, in single precision for drawing crowds. [m]
    group : ndarray of int16, shape (n,)
        Which of ``groups`` each belongs to.
    groups : tuple of TreeGroup
        Kinds of look, in the order of painting.
    group_counts : ndarray of int64, shape (len(groups),)
        How many trees there are of each.
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
    marks : ndarray of int8, shape (n,)
        `LEFT`, `CROP` or `TAKE`; `LEFT` where none stands.
    forecast : bool
        Whether sizes are forecast, as the day has not come.
    """

    ids: Ints
    x: Floats
    y: Floats
    x_near: NDArray[np.float32]
    y_near: NDArray[np.float32]
    group: NDArray[np.int16]
    groups: tuple[TreeGroup, ...]
    group_counts: Ints
    crown_m: NDArray[np.float32]
    symbols: tuple[SpeciesSymbol, ...]
    shown: Bools
    cells: CellIndex
    places: Ints
    tags: pd.Series
    marks: NDArray[np.int8]
    forecast: bool = False
    name: str = "trees"

    def tags_of(self, which: Ints) -> list[str]:
        """Return what is written on some trees' tags, given their places in the layer."""
        return [str(tag) for tag in self.tags.iloc[self.places[which]]]

    @cached_property
    def marked(self) -> Ints:
        """Places in these arrays of the trees that are marked, increasing."""
        return np.flatnonzero(self.marks)

    def marked_in(self, runs: Sequence[tuple[int, int]]) -> Ints:
        """Return the places of the marked trees in runs of the arrays."""
        if not len(self.marked):
            return self.marked
        ends = np.searchsorted(self.marked, np.array(runs, np.int64).reshape(-1, 2)).tolist()
        return np.concatenate([self.marked[:0], *(self.marked[first:last] for first, last in ends)])

    def counts(self) -> Ints:
        """Return the number of trees of each group, shape (len(groups),)."""
        return self.group_counts

    @cached_property
    def has_crowns(self) -> bool:
        """Whether the crown of any tree is known."""
        return bool((self.crown_m > 0).any())

    @cached_property
    def by_group(self) -> Ints:
        """Places in these arrays, group by group, shape (n,)."""
        return np.argsort(self.group, kind="stable")

    @cached_property
    def grouped(self) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.int16]]:
        """``x_near``, ``y_near`` and ``group``, group by group."""
        return self.x_near[self.by_group], self.y_near[self.by_group], self.group[self.by_group]

    def counts_in(self, runs: Sequence[tuple[int, int]]) -> Ints:
        """Return the number of trees of each group in runs of the arrays, shape (len(groups),)."""
        if sum(last - first for first, last in runs) == len(self.group):
            return self.counts()
        parts = [self.group[first:last] for first, last in runs]
        return np.bincount(np.concatenate([np.zeros(0, np.int16), *parts]), minlength=len(self.groups))

    def sizes_mm(self, metres_per_mm: float) -> Floats:
        """Return the width of each group's symbol at a scale, shape (len(groups),). [mm]."""
        fixed = np.array([0.0, UNMEASURED_MM, GONE_MM, PLANNED_MM])[self.group_kinds]
        return np.where(self.group_kinds == STANDING, symbol_mm(self._classes_cm, metres_per_mm), fixed)

    @cached_property
    def group_kinds(self) -> Ints:
        """How the trees of each group are drawn, shape (len(groups),)."""
        return np.array([group.drawn_as for group in self.groups], np.int64)

    @cached_property
    def _classes_cm(self) -> Floats:
        return np.array([group.dbh_class_cm for group in self.groups])

    @cached_property
    def _shown_groups(self) -> Bools:
        return self.shown[np.array([group.species for group in self.groups], np.int64)]

    def group_shown(self) -> Bools:
        """Return which groups are of a species that is shown, shape (len(groups),)."""
        return self._shown_groups


@dataclass(frozen=True, eq=False)
class CrownLayer:
    """Crowns of the standing trees at their true size, one even tint however many overlap.

    A style with a line, which those that are forecast have, is drawn around each crown too.
    """

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
        True width of a line, or of an area where it is widest; a line is named beside its edge, or between its edges
        where there is room, and so is an area that is but a strip. [m]
    farthest_m_per_mm : float
        It is named when a millimetre shows no more ground than this. [m]
    turn_deg : float
        Which way its mark opens, so that it is not named there; nan for one that opens no way. [degrees]
    """

    text: str
    style: TextStyle
    importance: float
    points: Floats
    along: bool
    room_m: float
    width_m: float = 0.0
    farthest_m_per_mm: float = np.inf
    turn_deg: float = np.nan

    @cached_property
    def box(self) -> Bounds:
        """Smallest rectangle around the points. [m]."""
        (west, south), (east, north) = self.points.min(axis=0).tolist(), self.points.max(axis=0).tolist()
        return west, south, east, north


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
    clear_of : ndarray, shape (n, 4), or None
        West, south, east and north of ground on which nothing is written, as a page draws something upon the map
        there. [m]
    """

    wordings: tuple[Wording, ...]
    tagged: TreeLayer | None
    tag_style: TextStyle
    name: str = "labels"
    clear_of: Floats | None = None

    @cached_property
    def boxes(self) -> Floats:
        """Smallest rectangle around each wording's points, shape (n, 4). [m]."""
        return np.array([wording.box for wording in self.wordings]).reshape(-1, 4)

    @cached_property
    def first_points(self) -> Floats:
        """First point of each wording, shape (n, 2). [m]."""
        return np.array([wording.points[0] for wording in self.wordings]).reshape(-1, 2)

    @cached_property
    def rooms_m(self) -> Floats:
        """``room_m`` of each wording, shape (n,). [m]."""
        return np.array([wording.room_m for wording in self.wordings])

    @cached_property
    def farthest_m_per_mm(self) -> Floats:
        """``farthest_m_per_mm`` of each wording, shape (n,). [m]."""
        return np.array([wording.farthest_m_per_mm for wording in self.wordings])


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


Layer = RasterLayer | AreaLayer | LineLayer | MarkLayer | TreeLayer | CrownLayer | LabelLayer


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

    @cached_property
    def texts(self) -> frozenset[str]:
        """Every name that may be written, tags of trees not among them."""
        layers = [layer for layer in self.layers if isinstance(layer, LabelLayer)]
        return frozenset(wording.text for layer in layers for wording in layer.wordings)
