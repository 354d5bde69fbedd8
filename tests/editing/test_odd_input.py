"""Whatever is handed to a function of this room, it proposes an edit that lasts, or says in words why it does not."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from farmmap.editing import (
    backdrops,
    blocks,
    draw,
    exact,
    fields,
    ground,
    pruning,
    reshape,
    snapping,
    tape_entry,
    trees,
)
from farmmap.editing.corners import corner_near, corners_of, edge_near
from farmmap.editing.proposed import Proposed
from farmmap.editing.shared_edges import OVERLAP_M2
from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.farm.schema import TABLES
from farmmap.files.farm_file import read_farm, write_farm
from farmmap.files.farm_writer import FarmWriter
from tests.editing.made_farms import area, carried_out, existing_blocks, line, same_tables
from tests.editing.odd_farms import DAYS, FARMS, NUMBERS, ROWS, SHAPES, TABLE_NAMES, THINGS, WORDS
from tests.place import EAST, NORTH

anything = st.sampled_from([*NUMBERS, *WORDS, *DAYS, *THINGS])
numbers = st.one_of(st.floats(-300, 300), st.sampled_from([*NUMBERS, *WORDS, *THINGS]))
tables = st.sampled_from(list(TABLES)) | st.sampled_from(TABLE_NAMES)
days = st.just("2020-05-01") | st.dates() | anything
lengths = st.floats(0.5, 30).map(lambda metres: f"{metres:.1f}") | anything
odd_ids = st.sampled_from([[], None, "abc", 1.5, [1.5], [None], [[1, 2]], (1, 1), {1, 2}, range(3), [2**63], [True]])
typed_places = st.sampled_from([*WORDS, "25 @ 90", "25", "1e9 @ 5", f"{'9' * 400} @ 9", f"E {'9' * 400} N 5", "+1 -5"])


class Hand:
    """Draws what is handed over with a farm: mostly what is on it, now and then what is not."""

    def __init__(self, farm: Farm, data: st.DataObject) -> None:
        self.farm = farm
        self.draw = data.draw

    def row(self, table: str) -> object:
        rows = [int(row) for row in self.farm.tables[table].index] if table in list(TABLES) else []
        return self.draw(st.sampled_from(rows) | st.sampled_from(ROWS) if rows else st.sampled_from(ROWS))

    def rows(self, table: str) -> object:
        rows = [int(row) for row in self.farm.tables[table].index] if table in list(TABLES) else []
        return self.draw(st.lists(st.sampled_from(rows), min_size=1, max_size=3) | odd_ids if rows else odd_ids)

    def place(self) -> tuple[object, object]:
        """Return a place on the farm or within its own width of it, or none at all."""
        west, south, east, north = self.farm.bounds() or (EAST, NORTH, EAST + 200, NORTH + 100)
        wide, high = max(east - west, 1.0), max(north - south, 1.0)
        x = self.draw(st.floats(west - wide / 4, east + wide / 4) | numbers)
        y = self.draw(st.floats(south - high / 4, north + high / 4) | numbers)
        return x, y

    def sound_place(self) -> tuple[float, float]:
        west, south, east, north = self.farm.bounds() or (EAST, NORTH, EAST + 200, NORTH + 100)
        return self.draw(st.floats(west - 20, east + 20)), self.draw(st.floats(south - 20, north + 20))

    def shape(self) -> object:
        if self.draw(st.booleans()):
            return self.draw(st.sampled_from(SHAPES))
        places = [self.sound_place() for _ in range(self.draw(st.integers(3, 5)))]
        return self.draw(st.sampled_from([shapely.Polygon(places), shapely.LineString(places)]))

    def values(self, table: object) -> object:
        columns = list(TABLES[table].column_names) if table in list(TABLES) else ["name"]
        names = st.sampled_from([*columns, "geometry", "id"])
        return self.draw(st.dictionaries(names, anything, max_size=3) | st.sampled_from([None, 3, "name", {3: 4}]))

    def corner(self):
        table = self.draw(st.sampled_from(["blocks", "creeks", "tracks", "hazards"]))
        found = [corner for row in self.farm.tables[table].index for corner in _corners(self.farm, table, int(row))]
        if not found:
            raise BadInput("nothing to take hold of; draw something first")
        return self.draw(st.sampled_from(found))


def _corners(farm: Farm, table: str, row: int):
    return corners_of(farm, table, row) if farm.tables[table]["geometry"].loc[row] is not None else ()


def draw_something(hand: Hand) -> object:
    table = hand.draw(tables)
    return draw.drawn(hand.farm, table, hand.shape(), hand.values(table))


def shape_from_corners(hand: Hand) -> object:
    corners = hand.draw(st.sampled_from([[], None, "abc", [[1, 2, 3]], [[1]], [(0, 0), (float("nan"), 1), (1, 1)]]))
    return draw.shape_from_corners(hand.draw(tables), corners, as_area=hand.draw(st.booleans()))


def change_fields(hand: Hand) -> object:
    table = hand.draw(st.sampled_from(list(TABLES)) | tables)
    return fields.fields_changed(hand.farm, table, hand.rows(table), hand.values(table))


def place_from_words(hand: Hand) -> object:
    start, toward = (hand.draw(st.sampled_from([None, (1, 2, 3), (EAST, NORTH), hand.place()])) for _ in range(2))
    return exact.place_from_words(hand.draw(typed_places), start, hand.farm.grid, toward)


def move_trees(hand: Hand) -> object:
    return trees.trees_moved(hand.farm, hand.rows("trees"), hand.draw(numbers), hand.draw(numbers))


def measure(hand: Hand) -> object:
    readings = [hand.draw(st.none() | lengths) for _ in range(4)]
    stem = hand.draw(st.just(1) | anything)
    return tape_entry.measured(hand.farm, hand.row("trees"), hand.draw(days), *readings, stem)


def prune(hand: Hand) -> object:
    return pruning.pruned_to(hand.farm, hand.rows("trees"), hand.draw(lengths), hand.draw(days))


def snap(hand: Hand) -> object:
    snapper = snapping.Snapper(hand.farm, [hand.draw(tables)], extra=hand.shape())
    return snapper.at(*hand.place(), hand.draw(numbers), hand.draw(st.sampled_from([None, hand.place()])))


def measure_ground(hand: Hand) -> object:
    places = [hand.place() for _ in range(4)]
    ground.bearing_deg(hand.farm, *places[:2])
    return ground.length_m(hand.farm, places), ground.area_m2(hand.farm, places)


def move_corner(hand: Hand) -> object:
    corner = hand.corner()
    return reshape.corner_moved(hand.farm, corner, *hand.place(), neighbours=hand.draw(st.booleans()))


def move_shape(hand: Hand) -> object:
    table = hand.draw(tables)
    return reshape.shape_moved(hand.farm, table, hand.row(table), hand.draw(numbers), hand.draw(numbers))


def remove_rows(hand: Hand) -> object:
    table = hand.draw(tables)
    return reshape.rows_removed(hand.farm, table, hand.rows(table))


def look_for_corner(hand: Hand) -> object:
    table = hand.draw(tables)
    only = hand.draw(st.sampled_from([None, (table, hand.row(table))]))
    return corner_near(hand.farm, *hand.place(), hand.draw(numbers), [hand.draw(tables)], only)


def put_in_corner(hand: Hand) -> object:
    edge = edge_near(hand.farm, *hand.sound_place(), 100.0, ["blocks", "creeks", "tracks"])
    return None if edge is None else reshape.corner_added(hand.farm, edge, edge.x + hand.draw(st.floats(-3, 3)), edge.y)


CALLS = {
    "drawn": draw_something,
    "shape_from_corners": shape_from_corners,
    "split": lambda hand: blocks.split(hand.farm, hand.row("blocks"), hand.shape()),
    "merged": lambda hand: blocks.merged(hand.farm, hand.rows("blocks")),
    "hole_cut": lambda hand: blocks.hole_cut(hand.farm, hand.row("blocks"), hand.shape()),
    "gap_filled": lambda hand: blocks.gap_filled(
        hand.farm, *hand.place(), hand.draw(st.none() | st.sampled_from(ROWS))
    ),
    "corner_moved": move_corner,
    "corner_added": put_in_corner,
    "corner_removed": lambda hand: reshape.corner_removed(hand.farm, hand.corner()),
    "shape_moved": move_shape,
    "rows_removed": remove_rows,
    "corner_near": look_for_corner,
    "fields_changed": change_fields,
    "pruned_to": prune,
    "measured": measure,
    "tree_placed": lambda hand: trees.tree_placed(hand.farm, *hand.place(), hand.values("trees")),
    "trees_moved": move_trees,
    "next_free_tag": lambda hand: trees.next_free_tag(hand.farm, hand.draw(st.sampled_from([None, hand.place()]))),
    "trees_with_tag": lambda hand: tape_entry.trees_with_tag(hand.farm, hand.draw(anything)),
    "next_tag": lambda hand: tape_entry.next_tag(hand.farm, hand.draw(anything)),
    "place_from_words": place_from_words,
    "snapper": snap,
    "ground": measure_ground,
    "backdrop_changed": lambda hand: backdrops.backdrop_changed(
        hand.farm, hand.row("backdrops"), hand.values("backdrops")
    ),
}
"""What is called, with odd arguments and sound ones."""


@pytest.fixture(scope="module")
def farms(tmp_path_factory):
    """Give the odd farms, each as it was read from its file."""
    folder = tmp_path_factory.mktemp("odd")
    for name, make in FARMS.items():
        write_farm(make(), folder / f"{name}.gpkg")
    return {name: (read_farm(folder / f"{name}.gpkg"), folder / f"{name}.gpkg") for name in FARMS}


@pytest.mark.parametrize("name", CALLS)
@given(data=st.data(), which=st.sampled_from(list(FARMS)))
@settings(max_examples=50, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
def test_an_edit_lasts_or_is_refused_in_words(name, farms, data, which):
    farm, path = farms[which]
    try:
        answer = CALLS[name](Hand(farm, data))
    except BadInput as error:
        refused_in_words(str(error))
        return
    if isinstance(answer, Proposed):
        lasts(farm, path, answer)


def refused_in_words(message: str) -> None:
    assert len(message.split()) > 3
    assert not any(jargon in message for jargon in ("NaN", "dtype", "object at", "ufunc", "Geometry"))


def lasts(farm: Farm, path: Path, proposed: Proposed) -> None:
    """See an edit leave a sound farm, and come back from the file as it was written, and as it was before."""
    after = carried_out(farm, proposed)
    for table, change in proposed.edit.changes.items():
        if table == "blocks":
            shapes = change.after.geometry.to_numpy()
            same = (
                np.isin(shapes, change.before.geometry.to_numpy())
                if len(change.before)
                else np.zeros(len(shapes), bool)
            )
            assert (shapely.is_valid(shapes) & (shapely.area(shapes) > 0) | same).all()
    overlaps = overlaps_by_pair(farm)
    for pair, overlap_m2 in overlaps_by_pair(after).items():
        assert overlap_m2 <= max(OVERLAP_M2, overlaps.get(pair, 0.0) * (1 + 1e-9))
    copy = shutil.copy(path, path.with_suffix(".copy"))
    with FarmWriter(copy) as writer:
        writer.write(proposed.edit)
        assert same_tables(read_farm(copy), after)
        writer.write(proposed.edit.turned_round())
        assert same_tables(read_farm(copy), farm)


def overlaps_by_pair(farm: Farm) -> dict[tuple[int, int], float]:
    shapes = {row: shape for row, shape in existing_blocks(farm).items() if shape is not None and shape.is_valid}
    pairs = [(one, other) for one in shapes for other in shapes if one < other]
    return {(one, other): shapes[one].intersection(shapes[other]).area for one, other in pairs}


def test_a_planned_block_over_another_is_pointed_out(farm):
    first = carried_out(
        farm, draw.drawn(farm, "blocks", area((0, 0), (90, 0), (90, 90)), {"stage": "planned", "name": "A"})
    )
    over = draw.drawn(first, "blocks", area((50, 0), (90, 0), (90, 90)), {"stage": "planned", "name": "B"})
    assert over.notes == ("block B lies over A, planned as well; is that meant?",)
    beside = draw.drawn(first, "blocks", area((90, 0), (120, 0), (90, 90)), {"stage": "planned", "name": "B"})
    assert beside.notes == ()


def test_a_block_that_crosses_itself_is_not_split():
    farm = FARMS["unsound"]()
    with pytest.raises(BadInput, match=r"Bow: its outline would cross itself at E 1 812 050 N 5 478 050"):
        blocks.split(farm, 1, line((-10, 50), (110, 50)))


@pytest.mark.parametrize("text", ["300 km @ 90", "+200000 -5", "9999999 @ 5"])
def test_a_length_beyond_any_farm_is_refused(text):
    with pytest.raises(BadInput, match="up to 100 km"):
        exact.place_from_words(text, (EAST, NORTH), FARMS["empty"]().grid)


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("planted", "٢٠٢٠-٠٥-٠١"),
        ("status_on", np.datetime64("0500-01-01")),
        ("status_on", np.datetime64("99999-01-01")),
    ],
)
def test_days_that_no_figure_can_read_are_refused(farm, column, value):
    with pytest.raises(BadInput, match=r"write (a year, or a day|the year in full)"):
        fields.fields_changed(farm, "trees", [3], {column: value})


@pytest.mark.parametrize("text", ["a\x00b", "\ud800"])
def test_letters_that_no_file_keeps_are_refused(farm, text):
    with pytest.raises(BadInput, match="holds a letter that cannot be kept"):
        fields.fields_changed(farm, "blocks", [1], {"note": text})
