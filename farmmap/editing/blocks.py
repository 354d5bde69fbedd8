"""Blocks split along a line, merged, and with holes cut; gaps between them filled."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
import shapely

from farmmap.editing.block_rows import Shapes, is_existing
from farmmap.editing.corners import sides_of
from farmmap.editing.draw import free_names
from farmmap.editing.gaps import gap_filled
from farmmap.editing.guard import guarded
from farmmap.editing.parts import Floats, gathered, rings_of, shape_of, simple_parts
from farmmap.editing.proposed import (
    Proposed,
    added_change,
    edit_of,
    ids_of,
    joined_change,
    removed_change,
    rows_of,
    shape_of_row,
    shapes_changed,
    with_shapes,
)
from farmmap.editing.settling import settled
from farmmap.editing.shared_edges import OVERLAP_M2, corners_within, snapped_to, with_corners_at, without_hairlines
from farmmap.editing.sound import TOUCH_M, sound_shape, still_sound, without_repeats
from farmmap.editing.words import area_words, ground_words, listed, own_name, place_words
from farmmap.errors import BadInput
from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm, next_ids
from farmmap.figures.united import united

__all__ = ["gap_filled", "hole_cut", "merged", "split"]

LEAST_PIECE_M2 = 1.0
"""A block is not split into pieces smaller than this. [m²]"""

LEAST_WIDTH_M = 0.1
"""Nor into strips that are narrower than this on the average. [m]"""

PASSED_M = 0.02
"""A line or hole that passes a corner of the block within this is led through the corner. [m]"""

SHARED_M = 0.01
"""Blocks that share an edge of this length touch. [m]"""


@guarded
def split(farm: Farm, block: int, line: shapely.LineString) -> Proposed:
    """Propose to split a block along a line.

    The largest piece keeps the id and the name, as do parts that the line
    does not cross; the others get names such as ``North Terrace 2`` and
    everything else from the block. Neighbours get a corner where the line
    meets an edge that they share.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    block : int
        Id of the block.
    line : LineString
        On the farm's grid; it may cross the block more than once. [m]

    Raises
    ------
    BadInput
        The line does not cross the block from side to side, with the reason.
    """
    name = own_name(farm, "blocks", block)
    shape = _sound_outline(farm, block)
    cut, _ = sound_shape("fences", line, f"the line across {name}")
    cut = _led_onto(cut, shape)
    kept, pieces = _pieces(with_corners_at(shape, shapely.get_coordinates(cut)), cut)
    if not pieces:
        raise BadInput(f"{name} cannot be split: {_why_not_crossed(shape, cut)}")
    _refuse_slivers(pieces, name)
    pieces.sort(key=lambda piece: -piece.area)
    new_ids = [int(row) for row in next_ids(farm.blocks, len(pieces) - 1)]
    names = free_names(farm, "blocks", name, len(new_ids))
    shapes: Shapes = {block: gathered([pieces[0], *kept])} | dict(zip(new_ids, pieces[1:], strict=True))
    notes = [f"{len(pieces)} blocks now: {listed(_sized(farm, [name, *names], list(shapes.values())))}"]
    own = rows_of(farm, "blocks", block)
    around: Shapes = {}
    if own["stage"].iloc[0] == "existing":
        found = settled(farm, shapes, dict(zip(new_ids, names, strict=True)))
        around = {row: new for row, new in found.shapes.items() if row not in shapes}
        shapes = {row: found.shapes[row] for row in shapes}
        notes += found.notes
    rows = pd.concat([own] * len(new_ids)).set_axis(pd.Index(new_ids, dtype=np.int64, name="id"))
    rows["name"] = pd.array(names, dtype="str")
    added = with_shapes(rows, [shapes[row] for row in new_ids])
    changed = shapes_changed(farm, "blocks", {block: shapes[block]} | around)
    change = joined_change(changed, added_change(farm, "blocks", added))
    return Proposed(edit_of(f"Split {name}", {"blocks": change}), tuple(notes))


@guarded
def merged(farm: Farm, blocks: Sequence[int]) -> Proposed:
    """Propose to merge blocks that share edges; the largest keeps its id, name and all else.

    Raises
    ------
    BadInput
        Fewer than two are chosen, they do not share edges, or one stands and another is only planned.
    """
    wanted = ids_of(list(blocks))
    if len(wanted) < 2:
        raise BadInput("choose two or more blocks that touch, to join them")
    rows = rows_of(farm, "blocks", wanted)
    if len(set(rows["stage"])) > 1:
        raise BadInput("one of these blocks stands and another is only planned; give them the same stage first")
    shapes = [_sound_outline(farm, int(row)) for row in wanted]
    shapes = [
        with_corners_at(snapped_to(shape, corners_within(shapes[:at])), corners_within(shapes[:at]))
        for at, shape in enumerate(shapes)
    ]
    shapes = [with_corners_at(shape, corners_within(shapes)) for shape in shapes]
    apart = _apart(shapes)
    if apart:
        names = [own_name(farm, "blocks", int(wanted[place])) for place in apart]
        others = [
            own_name(farm, "blocks", int(row)) for row in wanted if int(row) not in {int(wanted[p]) for p in apart}
        ]
        raise BadInput(
            f"{listed(names)} shares no edge with {listed(others)}, so they cannot be one block; "
            "fill the gap between them first"
        )
    whole = without_hairlines(united(shapes))
    place = int(np.argmax(shapely.area(np.array(shapes, object))))
    keeper, own = int(wanted[place]), rows.iloc[[place]]
    name = own_name(farm, "blocks", keeper)
    gone = np.delete(wanted, place)
    shapes_after: Shapes = {keeper: still_sound(whole, name)}
    if own["stage"].iloc[0] == "existing":
        shapes_after = settled(farm.with_tables(blocks=farm.blocks.drop(index=gone)), shapes_after).shapes
    after = with_shapes(own, [shapes_after.pop(keeper)])
    texts = dict.fromkeys(text for text in [own["note"].iloc[0], *rows["note"]] if text)
    after["note"] = pd.array(["; ".join(texts)], dtype="str")
    changes = [removed_change(farm, "blocks", gone), Change(own, after)]
    if shapes_after:
        changes.append(shapes_changed(farm, "blocks", shapes_after))
    names = [own_name(farm, "blocks", int(row)) for row in (keeper, *gone)]
    edit = edit_of(f"Join {listed(names)}", {"blocks": joined_change(*changes)})
    return Proposed(edit, _differences(rows, own, name))


@guarded
def hole_cut(farm: Farm, block: int, hole: shapely.Polygon) -> Proposed:
    """Propose to cut a hole into a block, or a bite out of its edge.

    Raises
    ------
    BadInput
        The hole lies outside, nothing would be left, or the block would fall into pieces.
    """
    name = own_name(farm, "blocks", block)
    shape = _sound_outline(farm, block)
    cut, said = sound_shape("blocks", hole, f"the hole in {name}")
    notes = list(said)
    cut = _led_onto(cut, shape)
    shape = with_corners_at(shape, corners_within([cut]))
    inside = shapely.intersection(shape, cut)
    if not inside.area > OVERLAP_M2:
        raise BadInput(f"the hole does not lie in {name}; draw it inside the block")
    outside = shapely.difference(cut, shape).area
    if outside > OVERLAP_M2:
        notes.append(f"{area_words(outside)} of the hole lay outside {name}; only the ground inside was cut out")
    pieces = len(simple_parts(shape))
    left = [p for p in simple_parts(shapely.difference(shape, cut)) if p.geom_type == "Polygon" and p.area > OVERLAP_M2]
    if not left:
        raise BadInput(f"the hole covers all of {name}; take the block away instead")
    if len(left) > pieces:
        raise BadInput(f"the hole would cut {name} into {len(left)} pieces; split the block along a line instead")
    shapes: Shapes = {block: still_sound(gathered(left), name)}
    if is_existing(farm, block):
        found = settled(farm, shapes)
        shapes = found.shapes
        notes += found.notes
    return Proposed(edit_of(f"Cut hole in {name}", {"blocks": shapes_changed(farm, "blocks", shapes)}), tuple(notes))


def _sound_outline(farm: Farm, block: int) -> shapely.Geometry:
    """Return the outline of a block; refuse one that crosses itself, as an old file may hold it."""
    return still_sound(shape_of_row(farm, "blocks", block), own_name(farm, "blocks", block))


def _led_onto(cut: shapely.Geometry, shape: shapely.Geometry) -> shapely.Geometry:
    """Lead what was drawn through corners of a block that it passes close by, and onto edges that it ends close to."""
    corners = corners_within([shape])
    rings, kinds = rings_of(cut)
    closed = [kind == shapely.GeometryType.POLYGON for kind in kinds]
    led = [[_led(ring, shape, corners, shut) for ring in part] for part, shut in zip(rings, closed, strict=True)]
    if any(len(ring) < (3 if shut else 2) for part, shut in zip(led, closed, strict=True) for ring in part):
        return cut
    through = shape_of(led, kinds)
    return with_corners_at(through if through.is_valid else cut, corners)


def _led(ring: Floats, shape: shapely.Geometry, corners: Floats, shut: bool) -> Floats:
    starts, ends = sides_of(ring, closed=shut)
    sides = shapely.snap(shapely.linestrings(np.stack([starts, ends], axis=1)), shapely.multipoints(corners), PASSED_M)
    at = shapely.get_coordinates(sides)
    for target in (shapely.multipoints(corners), shapely.boundary(shape)):
        onto = shapely.shortest_line(shapely.points(at), target)
        close = shapely.length(onto) <= PASSED_M
        at = np.where(close[:, None], shapely.get_coordinates(onto)[1::2], at)
    return without_repeats(at, closed=shut)


def _pieces(shape: shapely.Geometry, cut: shapely.Geometry) -> tuple[list[shapely.Geometry], list[shapely.Geometry]]:
    """Return the parts that a line leaves whole, and the pieces of those that it cuts."""
    kept: list[shapely.Geometry] = []
    pieces: list[shapely.Geometry] = []
    for part in simple_parts(shape):
        edges = shapely.union_all([shapely.boundary(part), cut])
        found = shapely.get_parts(shapely.polygonize([edges]))
        inside = [piece for piece in found if part.contains(piece.representative_point())]
        if len(inside) > 1:
            pieces += inside
        else:
            kept.append(part)
    return kept, pieces


def _refuse_slivers(pieces: list[shapely.Geometry], name: str) -> None:
    for piece in pieces:
        width_m = 2 * piece.area / piece.length
        if piece.area >= LEAST_PIECE_M2 and width_m >= LEAST_WIDTH_M:
            continue
        small = piece.area < LEAST_PIECE_M2
        what = f"piece of only {area_words(piece.area)}" if small else f"strip only {width_m * 100:.2g} cm wide"
        raise BadInput(
            f"{name} cannot be split: a {what} would come off at {place_words(*piece.centroid.coords[0])}; "
            "draw the line further inside, or along the edge itself"
        )


def _why_not_crossed(shape: shapely.Geometry, cut: shapely.Geometry) -> str:
    if not shape.intersects(cut):
        return "the line does not reach it; draw the line right across the block"
    inside = shapely.intersection(shape, cut)
    if shapely.length(inside) - shapely.length(shapely.intersection(shape.boundary, cut)) <= TOUCH_M:
        return "the line only touches its edge; draw the line right across the block"
    for part in simple_parts(cut):
        for end, word in ((shapely.get_point(part, 0), "starts"), (shapely.get_point(part, -1), "ends")):
            if shape.contains(end):
                return f"the line {word} inside it, at {place_words(end.x, end.y)}; carry it past the edge"
    return "the line runs into a hole and not on from it to the outer edge; carry it right across the block"


def _sized(farm: Farm, names: list[str], shapes: list[shapely.Geometry]) -> list[str]:
    return [f"{name} ({ground_words(shape, farm.grid)})" for name, shape in zip(names, shapes, strict=True)]


def _apart(shapes: list[shapely.Geometry]) -> list[int]:
    """Places of the shapes that cannot be reached from the first over shared edges."""
    reached, waiting = {0}, [0]
    while waiting:
        here = waiting.pop()
        for place, other in enumerate(shapes):
            if place not in reached and _touch(shapes[here], other):
                reached.add(place)
                waiting.append(place)
    return [place for place in range(len(shapes)) if place not in reached]


def _touch(one: shapely.Geometry, other: shapely.Geometry) -> bool:
    if not one.intersects(other):
        return False
    shared = shapely.intersection(one, other)
    return bool(shapely.area(shared) > OVERLAP_M2 or shapely.length(shared) > SHARED_M)


def _differences(rows: pd.DataFrame, keeper: pd.DataFrame, name: str) -> tuple[str, ...]:
    notes = []
    for column, words in (("planted", "planted"), ("purpose", "purpose")):
        own = str(keeper[column].iloc[0])
        others = sorted({str(value) or "not given" for value in rows[column]} - {own or "not given"})
        if others:
            notes.append(f"{words} differed ({listed(others)}); {name} keeps {own or 'none'}")
    return tuple(notes)
