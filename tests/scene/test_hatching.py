"""Strokes of hatches beside exact cuts of lines with areas."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from farmmap.scene.hatching import Ruling

FRAME = (0.0, 0.0, 400.0, 300.0)
WHOLE = shapely.box(*FRAME)


def rulings():
    return st.builds(
        lambda angle, spacing, x, y: (angle, spacing, (x, y)),
        st.sampled_from([0.0, 45.0, -45.0, 90.0, 17.0, 133.3]),
        st.floats(12.0, 60.0),
        st.floats(-1e4, 1e4),
        st.floats(-1e4, 1e4),
    )


def lines_of(angle, spacing, fixed_at):
    """All lines of a ruling that may cross the frame, one by one."""
    along = np.array([np.cos(np.radians(angle)), -np.sin(np.radians(angle))])
    across = np.array([np.sin(np.radians(angle)), np.cos(np.radians(angle))])
    corners = np.array(shapely.get_coordinates(WHOLE)) - fixed_at
    low, high = (corners @ across).min(), (corners @ across).max()
    middle = np.mean(corners @ along)
    feet = [
        fixed_at + across * spacing * k for k in range(int(np.floor(low / spacing)), int(np.ceil(high / spacing)) + 1)
    ]
    return [shapely.LineString([foot + along * (middle - 2000), foot + along * (middle + 2000)]) for foot in feet]


def made(strokes):
    return shapely.linestrings(strokes.reshape(-1, 2, 2)) if len(strokes) else np.empty(0, object)


def in_rings(ruling, polygons):
    _, corners, (rings, areas) = shapely.to_ragged_array(np.array(polygons, object))
    return Ruling(*ruling, FRAME).in_rings(corners, rings, areas)


POLYGONS = st.lists(
    st.tuples(st.floats(0, 400), st.floats(0, 300), st.floats(10, 150), st.integers(3, 12), st.booleans()),
    min_size=1,
    max_size=4,
)


def shapes_of(given_shapes):
    out = []
    for x, y, radius, corners, holed in given_shapes:
        turn = np.linspace(0, 2 * np.pi, corners, endpoint=False) + 0.1
        reach = radius * (0.6 + 0.4 * np.cos(3 * turn + x))
        outline = np.column_stack([x + reach * np.cos(turn), y + reach * np.sin(turn)])
        shape = shapely.Polygon(outline)
        hole = shapely.Point(shape.representative_point()).buffer(radius * 0.05, quad_segs=2)
        out.append(shape.difference(hole) if holed else shape)
    return [part for shape in out for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]


@settings(deadline=None, max_examples=25)
@given(POLYGONS, rulings())
def test_strokes_in_areas_are_those_of_exact_cuts(given_shapes, ruling):
    polygons = shapes_of(given_shapes)
    strokes = made(in_rings(ruling, polygons))
    lines = lines_of(*ruling)
    seen = [shapely.intersection(shape, WHOLE) for shape in polygons]
    expected = sum(shapely.length(shapely.intersection(lines, shape)).sum() for shape in seen)
    found = shapely.length(shapely.intersection(strokes, WHOLE)).sum() if len(strokes) else 0.0
    assert found == pytest.approx(expected, abs=1e-3)
    around = shapely.union_all(polygons).buffer(1e-6)
    assert all(around.covers(stroke) for stroke in strokes)


@settings(deadline=None, max_examples=25)
@given(st.lists(st.tuples(st.floats(0, 400), st.floats(0, 300), st.floats(2, 90)), min_size=1, max_size=25), rulings())
def test_strokes_in_discs_are_drawn_once_where_discs_overlap(discs, ruling):
    x, y, diameter = np.array(discs).T
    strokes = made(Ruling(*ruling, FRAME).in_discs(x, y, diameter))
    expected = 0.0
    for line in lines_of(*ruling):
        seen = shapely.intersection(line, WHOLE)
        if seen.geom_type == "LineString" and seen.length > 0:
            ends = [line.project(shapely.Point(point)) for point in seen.coords]
            expected += covered(sorted(chords(line, discs)), *sorted(ends))
    found = shapely.length(shapely.intersection(strokes, WHOLE)).sum() if len(strokes) else 0.0
    assert found == pytest.approx(expected, abs=1e-2)


def chords(line, discs):
    """From where to where a line lies in each disc, by the disc's own equation."""
    for x, y, diameter in discs:
        middle, away = line.project(shapely.Point(x, y)), line.distance(shapely.Point(x, y))
        if away < diameter / 2:
            half = np.sqrt((diameter / 2) ** 2 - away**2)
            yield middle - half, middle + half


def covered(stretches, low, high):
    """Length of sorted stretches between two places, counted once."""
    length, reached = 0.0, low
    for start, end in stretches:
        length += max(min(end, high) - max(start, reached), 0.0)
        reached = max(reached, min(end, high))
    return length


def test_areas_that_overlap_are_each_hatched():
    square = shapely.box(50, 50, 150, 150)
    once, twice = (len(in_rings((0.0, 10.0, (0.0, 0.0)), shapes)) for shapes in ([square], [square, square]))
    assert twice == 2 * once > 0


def test_nothing_is_drawn_far_outside_the_frame():
    strokes = in_rings((45.0, 5.0, (0.0, 0.0)), [shapely.box(-1e6, -1e6, 1e6, 1e6)])
    assert 80 < len(strokes) < 120
    assert np.abs(strokes).max() < 1500
    assert len(in_rings((45.0, 5.0, (0.0, 0.0)), [shapely.box(1e6, 1e6, 2e6, 2e6)])) == 0


def test_no_discs_have_no_strokes():
    nothing = np.empty(0)
    assert Ruling(0.0, 5.0, (0.0, 0.0), FRAME).in_discs(nothing, nothing, nothing).shape == (0, 4)
