"""The key and the scale bar on a page."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from farmmap.scene.page_items import Box, Disc, Item, Sampled, Shape, Text, Type, elided
from farmmap.scene.scales import ScaleBar
from farmmap.scene.scene import KeyEntry
from farmmap.scene.sizes import CROWNS_FROM_M_PER_MM, LARGEST_STEM_CM, symbol_mm

TREE_SAMPLE_MM = (4.4, 3.3)
SHAPE_SAMPLE_MM = (8.0, 3.3)
LEAST_SPECIES = 3
LEAST_COLUMN_MM = 31.0
"""Narrowest column of the key on A4. [mm]"""

MANY = 8
"""Lines from which a section is set in two columns where it can be."""

LEAST_LINES = 4
"""Lines that a column of the key holds at least, where the lines for trees are set in more columns."""

HEADED = 1.7
"""Height of a heading with what is below it, in sizes of its type."""

SHOWN_STEMS_CM = (10, 30, 60)
_SAMPLE_FILL = "#8C8C8C"


def key_box(
    entries: Sequence[KeyEntry],
    type_: Type,
    width: float,
    height: float,
    metres_per_mm: float,
    title: str = "Key",
    many: int = MANY,
) -> Box:
    """Return the key of what is shown: trees, then all else, in as many columns as there is room for.

    Parameters
    ----------
    entries : sequence of KeyEntry
        Lines of the key; those that are hidden or are only names are left out.
    type_ : Type
        Sizes of type.
    width, height : float
        Its room; species that find none are counted in a last line. [mm]
    metres_per_mm : float
        Scale of the map, for the key to stem sizes.
    title : str
        Its heading.
    many : int
        Lines from which a section is set in two columns where it can be.
    """
    lines = _fitting(entries, type_, width, height, metres_per_mm, many)
    if lines is None:
        return Box("key", 0, 0, width, 0, ())
    items: list[Item] = [Text(0, type_.heading.size_mm, title, type_.heading)]
    y = type_.heading.size_mm * HEADED
    if lines.trees.entries:
        items += _section(lines.trees, TREE_SAMPLE_MM, type_, width).placed(0, y).items
        y += lines.trees.height
    if lines.sizes:
        items += lines.sizes.placed(0, y + 0.8).items
        y += 1.8 + lines.sizes.height
    items += _section(lines.shapes, SHAPE_SAMPLE_MM, type_, width).placed(0, y).items
    return Box("key", 0, 0, width, y + lines.shapes.height, tuple(items))


def key_height(
    entries: Sequence[KeyEntry], type_: Type, width: float, height: float, metres_per_mm: float, many: int = MANY
) -> float:
    """Return how high `key_box` is, without setting it; the arguments are its own. [mm]."""
    lines = _fitting(entries, type_, width, height, metres_per_mm, many)
    if lines is None:
        return 0.0
    y = type_.heading.size_mm * HEADED + lines.trees.height
    y += 1.8 + lines.sizes.height if lines.sizes else 0.0
    return y + lines.shapes.height


@dataclass(frozen=True)
class _Section:
    """Lines of one kind, and how they are shared out over columns."""

    entries: Sequence[KeyEntry]
    left_out: int
    columns: int
    rows: int
    step: float

    @property
    def height(self) -> float:
        return self.rows * self.step


@dataclass(frozen=True)
class _Lines:
    """All that a key says in some room."""

    trees: _Section
    sizes: Box | None
    shapes: _Section


def _fitting(
    entries: Sequence[KeyEntry], type_: Type, width: float, height: float, metres_per_mm: float, many: int
) -> _Lines | None:
    """Return what of a key has room, species of few trees left out where there is none; None if nothing is shown."""
    wanted = [entry for entry in entries if _on_paper(entry, metres_per_mm)]
    if not wanted:
        return None
    trees = [entry for entry in wanted if _is_tree(entry) or entry.layer == "trees"]
    shapes = [entry for entry in wanted if not (_is_tree(entry) or entry.layer == "trees")]
    sizes = _stem_sizes(type_, metres_per_mm, width) if any(_is_tree(entry) for entry in trees) else None
    of_shapes = many
    if trees:
        most = max(int(width / (LEAST_COLUMN_MM * type_.times)), 1)
        of_shapes = min(many, max(math.ceil(len(shapes) / min(most, 1 + (len(trees) - 1) // many)), LEAST_LINES))
    below = _shared(shapes, 0, SHAPE_SAMPLE_MM, type_, width, of_shapes)
    above = _shared(trees, 0, TREE_SAMPLE_MM, type_, width, many)
    room = height - type_.heading.size_mm * HEADED - below.height - (sizes.height + 1.8 if sizes else 0.0) + 1e-6
    species = sum(map(_is_tree, trees))
    dropped = 0
    while above.height > room and dropped < species - LEAST_SPECIES:
        dropped += 1
        above = _shared(_without(trees, dropped), dropped, TREE_SAMPLE_MM, type_, width, many)
    return _Lines(above, sizes, below)


def _is_tree(entry: KeyEntry) -> bool:
    return entry.layer.startswith("species:")


def _on_paper(entry: KeyEntry, metres_per_mm: float) -> bool:
    near = metres_per_mm <= CROWNS_FROM_M_PER_MM
    return entry.shown and entry.layer != "labels" and (entry.layer != "crowns" or near)


def _without(entries: list[KeyEntry], count: int) -> list[KeyEntry]:
    """Entries without the species of fewest trees."""
    species = sorted((entry for entry in entries if _is_tree(entry)), key=lambda entry: -(entry.count or 0))
    dropped = {entry.layer for entry in species[len(species) - count :]}
    return [entry for entry in entries if entry.layer not in dropped]


def _shared(
    entries: Sequence[KeyEntry], left_out: int, sample: tuple[float, float], type_: Type, width: float, many: int
) -> _Section:
    """Share lines out over as many columns as there is room for."""
    lines = len(entries) + bool(left_out)
    most = max(int(width / (LEAST_COLUMN_MM * type_.times)), 1)
    columns = min(most, 1 + (lines - 1) // many) if lines else 1
    step = max(sample[1], type_.body.size_mm * 1.3) + 0.15
    return _Section(entries, left_out, columns, math.ceil(lines / columns), step)


def _section(of: _Section, sample: tuple[float, float], type_: Type, width: float) -> Box:
    lines: list[KeyEntry | str] = [*of.entries]
    if of.left_out:
        after = max(place for place, entry in enumerate(of.entries) if _is_tree(entry)) + 1
        lines.insert(after, f"and {of.left_out} more species")
    items: list[Item] = []
    for place, line in enumerate(lines):
        column, row = divmod(place, of.rows)
        left = column * width / of.columns
        gap = 3.0 if column < of.columns - 1 else 0.0
        items += _line(line, left, row * of.step, width / of.columns - gap, sample, type_, of.step)
    return Box("section", 0, 0, width, of.height, tuple(items))


def _line(
    line: KeyEntry | str, x: float, y: float, width: float, sample: tuple[float, float], type_: Type, step: float
) -> list[Item]:
    base = y + step / 2 + type_.body.size_mm * 0.33
    start = x + sample[0] + 1.6
    room = width - sample[0] - 1.6
    if isinstance(line, str):
        return [Text(start, base, elided(line, type_.body, room, type_.width), type_.body)]
    items: list[Item] = [Sampled(x, y + (step - sample[1]) / 2, *sample, line.sample)]
    if line.count is not None and line.layer.startswith(("species:", "trees")):
        count = f"{line.count:,}".replace(",", "\u202f")
        items.append(Text(x + width, base, count, type_.body, "right"))
        room -= type_.width(count, type_.body) + 1.5
    words = "crown, true size" if line.layer == "crowns" else line.words
    items.append(Text(start, base, elided(words, type_.body, room, type_.width), type_.body))
    return items


def _stem_sizes(type_: Type, metres_per_mm: float, width: float) -> Box:
    """Three circles: how large a stem of 10, 30 and 60 cm is drawn."""
    least = type_.theme.least_symbol_mm
    widths = [max(wide, least) for wide in symbol_mm(SHOWN_STEMS_CM, metres_per_mm).tolist()]
    high = max(*widths, type_.body.size_mm * 1.2)
    middle = high / 2 + 0.3
    base = middle + type_.body.size_mm * 0.33
    items: list[Item] = [Text(0, base, "Stem", type_.body)]
    x = type_.width("Stem", type_.body) + 2.5
    for stem, wide in zip(SHOWN_STEMS_CM, widths, strict=True):
        items.append(Disc(x + wide / 2, middle, wide, type_.theme.ink, type_.theme.outline_mm, _SAMPLE_FILL))
        words = f"{stem} cm"
        items.append(Text(x + wide + 1.2, base, words, type_.body))
        x += wide + 1.2 + type_.width(words, type_.body) + 3.0
    note = f"in proportion, up to {LARGEST_STEM_CM:.0f} cm"
    if x + type_.width(note, type_.small) <= width:
        items.append(Text(x, base, note, type_.small))
        return Box("sizes", 0, 0, width, high + 0.3 + 0.3 * type_.small.size_mm, tuple(items))
    y = high + 0.6 + type_.small.size_mm
    items.append(Text(0, y, note, type_.small))
    return Box("sizes", 0, 0, max(x, type_.width(note, type_.small)), y + 0.3 * type_.small.size_mm, tuple(items))


def scale_bar_box(bar: ScaleBar, type_: Type, ratio: str) -> Box:
    """Return a scale bar with the ratio written above it.

    Parameters
    ----------
    bar : ScaleBar
        The bar.
    type_ : Type
        Sizes of type.
    ratio : str
        Such as ``1:5 000 at A3``.
    """
    ink, ground = type_.theme.ink, "#FFFFFF"
    inset = type_.width(bar.words(0), type_.body) / 2
    top = type_.style(9.0, "semibold").size_mm * 1.35
    high = 1.6 * type_.times
    items: list[Item] = [Text(0, top * 0.75, ratio, type_.style(9.0, "semibold"))]
    for place in range(bar.divisions):
        left, right = inset + place * bar.step_mm, inset + (place + 1) * bar.step_mm
        corners = ((left, top), (right, top), (right, top + high), (left, top + high))
        items.append(Shape(corners, closed=True, line=ink, line_mm=0.2, fill=ground if place % 2 else ink))
    base = top + high + type_.body.size_mm * 1.05
    have_room = bar.step_mm > type_.width(bar.words(bar.divisions), type_.body)
    items += [
        Text(inset + place * bar.step_mm, base, bar.words(place), type_.body, "middle")
        for place in (range(bar.divisions + 1) if have_room else (0, bar.divisions))
    ]
    end = inset + bar.length_mm + type_.width(bar.words(bar.divisions), type_.body) / 2
    return Box(
        "scale bar",
        0,
        0,
        max(end, type_.width(ratio, type_.style(9.0, "semibold"))),
        base + 0.3 * type_.body.size_mm,
        tuple(items),
    )
