"""Room for names: taken once, free until then, never beyond the edge."""

import numpy as np
import shapely
from hypothesis import given
from hypothesis import strategies as st

from farmmap.scene.label_room import EDGE_MM, LabelRoom

WIDE, HIGH = 90.0, 60.0
RECTANGLES = st.tuples(
    st.floats(0, WIDE),
    st.floats(0, HIGH),
    st.floats(0.5, 25),
    st.floats(0.5, 6),
    st.sampled_from([0.0, 0.0, 17.0, -64.0]),
)


def corners(x, y, width, height, angle_deg):
    box = np.array([[-width, -height], [width, -height], [width, height], [-width, height]]) / 2
    cos, sin = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    return box @ np.array([[cos, sin], [-sin, cos]]) + (x, y)


@given(st.lists(RECTANGLES, max_size=25))
def test_what_is_taken_never_touches_and_stays_inside(wanted):
    room, taken = LabelRoom(WIDE, HIGH), []
    inside = shapely.box(EDGE_MM - 1e-9, EDGE_MM - 1e-9, WIDE - EDGE_MM + 1e-9, HIGH - EDGE_MM + 1e-9)
    for one in wanted:
        shape = shapely.Polygon(corners(*one))
        if room.take(corners(*one), upright=one[-1] == 0):
            assert inside.covers(shape)
            assert not any(shape.intersects(other) for other in taken)
            taken.append(shape)


@given(RECTANGLES)
def test_there_is_room_where_nothing_was_taken(one):
    x, y, *rest = one
    shape = corners(x, y, *rest)
    fits = shape.min() >= EDGE_MM and shape[:, 0].max() <= WIDE - EDGE_MM and shape[:, 1].max() <= HIGH - EDGE_MM
    assert LabelRoom(WIDE, HIGH).take(shape, upright=one[-1] == 0) == fits


def test_names_half_a_millimetre_apart_both_find_room():
    room = LabelRoom(WIDE, HIGH)
    assert room.take_upright(10.0, 10.0, 20.0, 14.0)
    assert room.take_upright(20.6, 10.0, 30.0, 14.0)
    assert not room.take_upright(25.0, 13.0, 35.0, 17.0)


def test_a_blocked_part_is_left_alone():
    room = LabelRoom(WIDE, HIGH)
    room.block(-5.0, -5.0, 40.0, 200.0)
    assert not room.take_upright(30.0, 10.0, 50.0, 14.0)
    assert room.take_upright(41.0, 10.0, 61.0, 14.0)
