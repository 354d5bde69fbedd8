"""The key: every kind of thing that the farm has, with a sample of how it is drawn."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

import numpy as np

from farmmap.farm.farm import Farm
from farmmap.figures.remembered import Remembered
from farmmap.scene.backdrops import NONE, Backdrops, contour_words
from farmmap.scene.note_signs import SIGNS, note_signs
from farmmap.scene.photo_signs import photo_lines
from farmmap.scene.plot_signs import plot_lines
from farmmap.scene.scene import (
    CROP,
    GONE,
    PLANNED,
    STANDING,
    TAKE,
    UNMEASURED,
    Ints,
    KeyEntry,
    Sample,
    TextSample,
    TreeLayer,
    TreeSample,
)
from farmmap.scene.styles import AreaStyle, LineStyle, Theme
from farmmap.scene.symbols import UNKNOWN_COLOUR, SpeciesSymbol

_STAGES: Remembered[dict[str, int]] = Remembered(24)

_PLAIN = SpeciesSymbol("", "any species", UNKNOWN_COLOUR, "circle", "")


def key_entries(
    farm: Farm,
    look: Theme,
    trees: TreeLayer | None,
    margins: int,
    hidden: frozenset[str],
    backdrops: Backdrops = NONE,
) -> tuple[KeyEntry, ...]:
    """Return the lines of the key, trees first.

    Parameters
    ----------
    farm : Farm
        The farm.
    look : Theme
        How things are drawn.
    trees : TreeLayer or None
        Trees on the map.
    margins : int
        How many creek margins there are.
    hidden : frozenset of str
        Layers and species that are not shown.
    backdrops : Backdrops
        What lies under the map.
    """
    entries = [*_trees(look, trees), *_shapes(farm, look, margins)]
    if any(entry[0] != "labels" for entry in entries):
        entries.append(("labels", "names", TextSample("Abc", look.texts["blocks"]), None))
    entries += _backdrops(look, backdrops)
    return tuple(
        KeyEntry(layer, words, sample, count, _is_shown(layer, hidden)) for layer, words, sample, count in entries
    )


_Line = tuple[str, str, Sample, int | None]


def _is_shown(layer: str, hidden: frozenset[str]) -> bool:
    return layer not in hidden and not (layer.startswith("species:") and "trees" in hidden)


def _trees(look: Theme, trees: TreeLayer | None) -> Iterable[_Line]:
    if trees is None:
        return
    if len(trees.marked):
        counts = np.bincount(trees.marks[trees.marked], minlength=3)
        for mark, style, words in ((CROP, "crop", "crop tree, kept"), (TAKE, "take", "to be taken out")):
            if counts[mark]:
                yield "trees", words, look.marks[style], int(counts[mark])
    living, planned = (_by_species(trees, kinds) for kinds in ((STANDING, UNMEASURED), (PLANNED,)))
    for symbol, count, to_come in zip(trees.symbols, living, planned, strict=True):
        if count or to_come:
            kind, said = (STANDING, "") if count else (PLANNED, ", planned")
            yield f"species:{symbol.code}", symbol.name + said, TreeSample(symbol, kind), int(count or to_come)
    for kind, words in ((UNMEASURED, "(not measured)"), (PLANNED, "planned tree"), (GONE, "dead or felled")):
        count = int(_by_species(trees, (kind,)).sum())
        if count:
            yield "trees", words, TreeSample(_PLAIN, kind), count
    if trees.has_crowns:
        words, ending = ("crowns as forecast", " forecast") if trees.forecast else ("crowns", "")
        yield "crowns", f"{words}, seen close", look.areas[f"crowns{ending}"], None


def _by_species(trees: TreeLayer, kinds: tuple[int, ...]) -> Ints:
    """Trees drawn in some ways by species, shape (len(symbols),)."""
    counts = np.zeros(len(trees.symbols), np.int64)
    for group, count in zip(trees.groups, trees.counts(), strict=True):
        if group.drawn_as in kinds:
            counts[group.species] += count
    return counts


def _shapes(farm: Farm, look: Theme, margins: int) -> Iterable[_Line]:
    if len(farm.boundary):
        edge = look.areas["boundary"]
        yield "boundary", "farm boundary", LineStyle(edge.line, edge.line_mm, edge.dash), None
    yield from _staged(farm, "blocks", "block", look.areas)
    if margins:
        yield "margins", "creek margin", look.areas["margins"], margins
    yield from _staged(farm, "creeks", "creek", look.lines)
    yield from _staged(farm, "fences", "fence", look.lines)
    yield from _staged(farm, "tracks", "track", look.lines)
    yield from _hazards(farm, look)
    yield from plot_lines(farm, look)
    yield from photo_lines(farm, look)
    signs = Counter(note_signs(farm.notes).tolist())
    for sign, words in (("notes", "note"), *zip(SIGNS, SIGNS, strict=True)):
        if sign in signs:
            yield "notes", words, look.marks[sign], signs[sign]


def _backdrops(look: Theme, backdrops: Backdrops) -> Iterable[_Line]:
    contour = contour_words(backdrops)
    if contour:
        yield "contours", contour, look.lines["index contours"], None
    if backdrops.elevation is not None:
        yield "relief", "shaded relief", look.areas["relief"], None
    for one in backdrops.all:
        if one.shown and one.trouble:
            yield "backdrops", f"{one.name} (cannot be shown)", look.areas["no picture"], None
        elif one in backdrops.pictures:
            yield "backdrops", one.name, look.areas["picture"], None


def _staged(
    farm: Farm, table: str, words: str, styles: Mapping[str, AreaStyle] | Mapping[str, LineStyle]
) -> Iterable[_Line]:
    frame = farm.tables[table]
    counts = _STAGES.get((frame,), (), lambda: dict(Counter(frame["stage"].tolist())))
    for stage, ending, said in (("existing", "", ""), ("planned", " planned", ", planned")):
        if stage in counts:
            yield table, words + said, styles[table + ending], counts[stage]


def _hazards(farm: Farm, look: Theme) -> Iterable[_Line]:
    hazards = farm.hazards
    if not len(hazards):
        return
    kinds = hazards["kind"].to_numpy(object)
    geometry = hazards.geometry.geom_type.to_numpy(object)
    for kind in sorted(set(kinds)):
        of_kind = kinds == kind
        words = "other hazard" if kind == "other" else str(kind)
        for shape in ("Polygon", "LineString", "Point"):
            here = of_kind & np.array([str(name).endswith(shape) for name in geometry])
            if here.any():
                yield "hazards", words, _hazard_sample(str(kind), shape, look), int(here.sum())
    if bool(np.any((hazards["clear_m"].to_numpy() > 0) & (hazards["stage"].to_numpy(object) == "existing"))):
        yield "hazards", "kept clear of trees", look.areas["clearance"], None


def _hazard_sample(kind: str, shape: str, look: Theme) -> Sample:
    if shape == "Polygon":
        return look.areas["building" if kind == "building" else "hazard area"]
    if shape == "LineString":
        return look.lines[kind]
    return look.marks["building" if kind == "building" else "hazard"]
