"""Creeks of any shape, for the property tests of plantings: wandering, meandering, forked, with islands, in rings."""

from __future__ import annotations

import numpy as np
import shapely
from hypothesis import strategies as st
from shapely import LineString, Point

from tests.place import EAST, NORTH
from tests.plans.meanders import sine_generated_creek, wandering_creek

wanderings = st.builds(
    wandering_creek, st.integers(0, 10_000), st.integers(2, 40), st.floats(3.0, 30.0), st.floats(5.0, 150.0)
)
meanders = st.builds(
    sine_generated_creek, st.floats(60.0, 400.0), st.integers(5, 200), st.floats(0.0, 112.0), st.floats(40.0, 150.0)
)
corner = st.tuples(st.integers(-40, 40), st.integers(-40, 40))
rough = st.lists(corner, min_size=2, max_size=9).map(lambda corners: LineString(np.add(corners, (EAST, NORTH))))
"""Corners anywhere: the line crosses itself, turns back, stands still."""

tiny = st.builds(
    lambda line, step: LineString(
        np.repeat(line.coords, 2, axis=0) + np.tile([[0.0, 0.0], [step, 0.0]], (len(line.coords), 1))
    ),
    rough,
    st.sampled_from([0.0, 1e-4, 0.01]),
)
"""Each corner twice, hardly apart."""


def alone(line: LineString) -> list[LineString]:
    """Return the creek as it is."""
    return [line]


def forked(line: LineString) -> list[LineString]:
    """Return the creek with a side arm that comes in at its middle corner."""
    corners = shapely.get_coordinates(line)
    meeting = corners[len(corners) // 2]
    return [line, LineString(meeting + np.array([[25.0, 60.0], [4.0, 20.0], [0.0, 0.0]]))]


def islanded(line: LineString) -> list[LineString]:
    """Return the creek running on into two arms round an island, and out of them."""
    end = np.array(line.coords[-1])
    arms = [LineString(end + np.array([[0.0, 0.0], [30.0, off], [60.0, 0.0]])) for off in (15.0, -18.0)]
    return [line, *arms, LineString(end + np.array([[60.0, 0.0], [100.0, 5.0]]))]


def ringed(line: LineString) -> list[LineString]:
    """Return the creek with a ring of water round its end."""
    return [line, LineString(Point(line.coords[-1]).buffer(20.0, quad_segs=4).exterior.coords)]


def looped(line: LineString) -> list[LineString]:
    """Return a creek that runs round in a ring and nowhere else."""
    return [LineString(Point(line.coords[0]).buffer(30.0, quad_segs=3).exterior.coords)]


likely_creeks = st.builds(
    lambda line, made: made(line),
    st.one_of(wanderings, meanders),
    st.sampled_from([alone, forked, islanded, ringed, looped]),
)
any_creeks = st.builds(
    lambda line, made: made(line),
    st.one_of(wanderings, meanders, rough, tiny),
    st.sampled_from([alone, forked, islanded, ringed, looped]),
)
