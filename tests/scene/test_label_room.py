"""Room for names: taken once, free until then and after it is given back, never beyond the edge."""

import numpy as np
import shapely
from hypothesis import given
from hypothesis import strategies as st

from farmmap.scene.label_room import CELL_MM, EDGE_MM, LabelRoom

WIDE, HIGH = 90.0, 60.0
RECTANGLES = st.tuples(
    st.floats(0, WIDE),
    st.floats(0, HIGH),
    st.floats(0.5, 25),
    st.floats(0.5, 6),
    st.sampled_from([0.0, 0.0, 17.0, -64.0, 90.0, -90.0, 0.001]),
)


def outline(x, y, width, height, angle_deg):
    box = np.array([[-width, -height], [width, -height], [width, height], [-width, height]]) / 2
    cos, sin = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    return shapely.Polygon(box @ np.array([[cos, sin], [-sin, cos]]) + (x, y))


@given(st.lists(RECTANGLES, max_size=25))
def test_what_is_taken_never_touches_and_stays_inside(wanted):
    room, taken = LabelRoom(WIDE, HIGH), []
    inside = shapely.box(EDGE_MM - 1e-9, EDGE_MM - 1e-9, WIDE - EDGE_MM + 1e-9, HIGH - EDGE_MM + 1e-9)
    for one in wanted:
        shape = outline(*one)
        if room.take(*one):
            assert inside.covers(shape)
            assert not any(shape.intersects(other) for other in taken)
            taken.append(shape)


@given(RECTANGLES)
def test_there_is_room_where_nothing_was_taken(one):
    left, top, right, bottom = outline(*one).bounds
    fits = left >= EDGE_MM and top >= EDGE_MM and right <= WIDE - EDGE_MM and bottom <= HIGH - EDGE_MM
    room = LabelRoom(WIDE, HIGH)
    assert room.take(*one) == fits
    assert room.hold(np.array([[left, top, right, bottom]])).tolist() == [fits]


@given(st.lists(RECTANGLES, max_size=12), RECTANGLES)
def test_what_is_given_back_can_be_taken_again_and_nothing_else(others, one):
    room = LabelRoom(WIDE, HIGH)
    taken = [other for other in others if room.take(*other)]
    if room.take(*one):
        room.give_back(*one)
        assert not any(room.take(*other) for other in taken)
        assert room.take(*one)


def test_a_turned_name_takes_the_cells_that_only_its_corners_reach():
    room = LabelRoom(WIDE, HIGH)
    assert room.take(65.0, 3.0, 2.0, 5.0, 90.0)
    assert not room.take(58.75, 4.0, 7.0, 3.0, 17.0)


@given(RECTANGLES)
def test_every_cell_that_a_name_lies_on_is_taken(one):
    room = LabelRoom(WIDE, HIGH)
    if room.take(*one):
        left, top, right, bottom = outline(*one).bounds
        across, down = np.arange(int(left / CELL_MM), right / CELL_MM), np.arange(int(top / CELL_MM), bottom / CELL_MM)
        x, y = (grid.ravel() * CELL_MM for grid in np.meshgrid(across, down))
        cells = shapely.box(x, y, x + CELL_MM, y + CELL_MM)
        lies_on = shapely.area(shapely.intersection(cells, outline(*one))) > 1e-9
        inside = (x >= EDGE_MM) & (y >= EDGE_MM) & (x + CELL_MM <= WIDE - EDGE_MM) & (y + CELL_MM <= HIGH - EDGE_MM)
        for left, top in zip(x[lies_on & inside], y[lies_on & inside], strict=True):
            assert not room.take(left + CELL_MM / 2, top + CELL_MM / 2, CELL_MM / 10, CELL_MM / 10)


def test_names_half_a_millimetre_apart_both_find_room():
    room = LabelRoom(WIDE, HIGH)
    assert room.take(15.0, 12.0, 10.0, 4.0)
    assert room.take(25.3, 12.0, 9.4, 4.0)
    assert not room.take(30.0, 15.0, 10.0, 4.0)


def test_a_blocked_part_is_left_alone():
    room = LabelRoom(WIDE, HIGH)
    room.block(-5.0, -5.0, 40.0, 200.0)
    assert not room.take(40.0, 12.0, 20.0, 4.0)
    assert room.take(51.0, 12.0, 20.0, 4.0)


@given(st.lists(RECTANGLES, min_size=1, max_size=9), RECTANGLES)
def test_rectangles_that_belong_together_may_overlap_and_are_taken_whole_or_not_at_all(chain, one):
    room, boxes = LabelRoom(WIDE, HIGH), np.array(chain)
    apart = room.take(*one)
    if room.take_all(boxes):
        assert not any(room.take(*link) for link in chain)
        assert not apart or not any(outline(*link).intersects(outline(*one)) for link in chain)
        room.give_all_back(boxes)
    if apart:
        room.give_back(*one)
    lefts, tops, rights, bottoms = np.array([outline(*link).bounds for link in chain]).T
    inside = min(lefts.min(), tops.min()) > EDGE_MM and rights.max() < WIDE - EDGE_MM and bottoms.max() < HIGH - EDGE_MM
    assert not inside or room.take_all(boxes)


@given(st.lists(RECTANGLES, max_size=12), st.lists(RECTANGLES, min_size=1, max_size=9))
def test_the_first_free_of_many_is_the_one_that_would_be_found_one_by_one(others, choices):
    rooms = [LabelRoom(WIDE, HIGH), LabelRoom(WIDE, HIGH)]
    for other in others:
        assert len({room.take(*other) for room in rooms}) == 1
    level = np.array(choices)[:, :4].T
    (cells,) = rooms[0].cells_of(*(side[None] for side in level)).tolist()
    one_by_one = (number for number, choice in enumerate(level.T) if rooms[1].take(*choice))
    assert rooms[0].take_first(cells) == next(one_by_one, None)
    assert (rooms[0]._taken == rooms[1]._taken).all()
