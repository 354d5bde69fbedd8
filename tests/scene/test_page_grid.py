from itertools import pairwise

import numpy as np
import pyproj
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.farm.grids import Grid
from farmmap.scene.page_grid import coordinate, degrees_words, graticule, grid_ticks
from farmmap.scene.page_items import Shape, Type
from farmmap.scene.styles import theme
from farmmap.scene.view import View

CORNER, BAND = (14.0, 23.0), 3.5
PLACES = [(2193, 1_811_500.0, 5_478_000.0), (27700, 651_410.0, 313_177.0), (6571, 305_480.0, 224_000.0)]


def measure(text, style):
    return len(text) * style.size_mm * 0.52


TYPE = Type(theme("paper"), 1.0, measure)


def shown(epsg, x, y, scale, wide=180.0, high=150.0):
    view = View(x, y, scale / 1000, wide, high)
    return view, *graticule(view, Grid(epsg), TYPE, CORNER, BAND)


def seconds(words):
    """Read a written angle. [s]."""
    letter = words[-1] if words[-1].isalpha() else "E"
    numbers = words.rstrip("NESW\u202f").replace("°", " ").replace("′", " ").replace("″", " ").split()
    return sum(float(n) * u for n, u in zip(numbers, (3600, 60, 1), strict=False)) * (-1 if letter in "SW" else 1)


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("scale", [500, 5000, 25_000, 1_000_000])
def test_lines_lie_where_proj_puts_the_angle_that_is_written_at_them(place, scale):
    """Every point of a line has the written longitude or latitude, to the 0.02 mm that sampling may be off by."""
    epsg, x, y = place
    view, items, (east, north) = shown(epsg, x, y, scale)
    crs = pyproj.CRS(epsg)
    back = pyproj.Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True)
    assert east.name == "longitudes"
    assert north.name == "latitudes"
    for box, axis, at in ((east, 0, "x"), (north, 1, "y")):
        for text in box.items:
            value = seconds(text.text) / 3600
            edge = CORNER[1] if axis == 0 else CORNER[0] + view.width_mm
            end = [
                (line, point) for line in items for point in line.points
                if abs(point[1 - axis] - edge) < 1e-6 and abs(point[axis] - getattr(text, at)) < 1e-6
            ]  # fmt: skip
            assert len(end) == 1
            across, down = np.array(end[0][0].points).T
            angles = back.transform(*view.to_ground(across - CORNER[0], down - CORNER[1]))
            metres = (np.array(angles[axis]) - value) * (
                111_320 * np.cos(np.radians(angles[1])) if axis == 0 else 111_320
            )
            assert np.abs(metres).max() < 0.02 * view.metres_per_mm + 1e-3


@pytest.mark.parametrize(("scale", "metres"), [(5_000_000, 900_000.0), (1_000_000, 180_000.0)])
def test_parallels_are_curved_as_a_parallel_bends(scale, metres):
    """A parallel bends by s² tan φ ÷ 8 R over a length s: by 2.8 mm of paper over 900 km in New Zealand."""
    _, items, _ = shown(2193, 1_600_000.0, 5_461_243.0, scale)
    lines = [np.array(item.points) for item in items if np.ptp(np.array(item.points)[:, 0]) > 179]
    bends = [np.abs(line[:, 1] - np.interp(line[:, 0], *line[[0, -1]].T)).max() for line in lines]
    latitude = np.radians(-41.0 if scale < 5_000_000 else -38.0)
    expected = metres**2 * -np.tan(latitude) / 8 / 6_371_000 / scale * 1000
    assert max(bends) == pytest.approx(expected, rel=0.25)


@given(
    st.sampled_from(PLACES), st.sampled_from([250, 500, 1000, 2500, 5000, 10_000, 25_000, 250_000]),
    st.floats(48, 1150), st.floats(48, 1150),
)  # fmt: skip
def test_what_is_written_has_room_and_stays_off_the_corners(place, scale, wide, high):
    epsg, x, y = place
    _, items, (east, north) = shown(epsg, x, y, scale, wide, high)
    left, top, right, bottom = *CORNER, CORNER[0] + wide, CORNER[1] + high
    for texts, at, low, end in ((east.items, "x", left, right), (north.items, "y", top, bottom)):
        spans = sorted(
            (getattr(t, at) - measure(t.text, t.style) / 2, getattr(t, at) + measure(t.text, t.style) / 2)
            for t in texts
        )
        assert all(low <= start and stop <= end for start, stop in spans)
        assert all(after[0] - before[1] > 2.0 for before, after in pairwise(spans))
    for item in items:
        assert isinstance(item, Shape)
        across, down = np.array(item.points).T
        assert across.min() >= left - 1e-6
        assert across.max() <= right + 1e-6
        assert down.min() >= top - 1e-6
        assert down.max() <= bottom + 1e-6


@pytest.mark.parametrize("place", [*PLACES, (32701, 166_000.0, 8_100_000.0), (32718, 300_000.0, 8_600_000.0)])
@pytest.mark.parametrize(("wide", "high"), [(180.0, 150.0), (121.0, 81.0)])
def test_a_page_of_a_farm_names_two_latitudes_and_two_longitudes_at_least(place, wide, high):
    epsg, x, y = place
    for scale in (500, 1000, 2000, 2500, 5000, 10_000, 25_000):
        _, _, (east, north) = shown(epsg, x, y, scale, wide, high)
        assert min(len(east.items), len(north.items)) >= 2, scale


def test_where_lines_run_across_the_page_some_are_still_named():
    """Far round from the middle meridian of a polar grid a meridian runs nearly from side to side."""
    _, _, (east, north) = shown(3031, 1_500_000.0, 300_000.0, 2000, 121.0, 81.0)
    assert east.items
    assert north.items


def test_longitudes_count_on_across_180_degrees():
    """Fiji's grid reaches across: 3460 is in metres, its middle meridian 178.75° E."""
    _, _, (east, _) = shown(3460, 2_130_000.0, 4_000_000.0, 250_000, 500.0, 150.0)
    written = [text.text[-1] for text in east.items if text.text[-1] in "EW"]
    assert written == sorted(written)
    assert set(written) == {"E", "W"}


def test_a_local_grid_has_no_latitudes():
    assert graticule(View(50, 50, 1.0, 100, 100), Grid(2193, local=True), TYPE, CORNER, BAND) == ([], [])


@pytest.mark.parametrize(
    ("angle", "letters", "step", "words"),
    [
        (-40.5 * 3600, "NS", 1800.0, "40°30′\u202fS"),
        (175.0 * 3600, "EW", 3600.0, "175°\u202fE"),
        (175 * 3600 + 30 * 60 + 20, "EW", 20.0, "175°30′20″\u202fE"),
        (-(30 * 60 + 0.5), "EW", 0.5, "0°30′00.5″\u202fW"),
        (0.0, "NS", 60.0, "0°00′"),
        (-0.01, "NS", 60.0, "0°00′"),
        (59.99999, "NS", 60.0, "0°01′\u202fN"),
        (180.0 * 3600, "EW", 3600.0, "180°"),
        (181.0 * 3600, "EW", 3600.0, "179°\u202fW"),
    ],
)
def test_angles_are_written_as_fine_as_their_step(angle, letters, step, words):
    assert degrees_words(angle, letters, step) == words


def test_ticks_stand_at_round_coordinates_to_a_hundredth_of_a_millimetre():
    view = View(1_811_537.3, 5_478_013.7, 5.0, 180.0, 150.0)
    items, (east, north) = grid_ticks(view, TYPE, CORNER, BAND)
    assert (east.name, north.name) == ("eastings", "northings")
    for text in east.items:
        metres = float(text.text[2:].replace("\u202f", ""))
        assert metres % 500 == 0
        assert text.x == pytest.approx(CORNER[0] + view.to_mm(metres, 0)[0], abs=0.01)
    for text in north.items:
        metres = float(text.text[2:].replace("\u202f", ""))
        assert text.y == pytest.approx(CORNER[1] + view.to_mm(0, metres)[1], abs=0.01)
    plain, _ = grid_ticks(view, TYPE, CORNER, BAND, crosses=False)
    assert len(items) > len(plain) > 0
    assert coordinate("E", 1_811_500.0) == "E\u202f1\u202f811\u202f500"
