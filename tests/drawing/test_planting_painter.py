"""A planting over the map, painted and looked at dot by dot."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from PySide6.QtGui import QPainter

from farmmap.drawing.planting_painter import CROWN_TINT, PlantingPainter
from farmmap.drawing.stamps import blank_image, pixels_of
from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.plan import FenceLine, PlantingPlan, Plants, Strip
from farmmap.plans.planting.recipes.recipe import Kin, Pattern, Recipe, WidthRule, Zone
from farmmap.scene.planting_layer import HATCHES, ZONE_COLOURS, planting_picture
from farmmap.scene.styles import theme
from farmmap.scene.symbols import species_symbols
from farmmap.scene.view import View
from tests.place import EAST, NORTH

LOOK = theme("light")
DOTS = 4.0
NAMES = {"TOTA": ("TOTA", "tōtara"), "flax": ("PHTE", "harakeke"), "sedge": ("CASE", "sedge")}


def made_plan():
    """Two zones, 100 m along and 5 m deep each: three rows of tōtara and flax, then scattered sedge; a fence outside."""
    rows = Zone(
        "Bank", share=0.5, pattern=Pattern.ROWS, between_m=2.0, within_m=4.0, mix=(Kin("TOTA", 0.5), Kin("flax", 0.5))
    )
    outer = Zone("Outer", share=0.5, pattern=Pattern.SCATTERED, between_m=3.0, within_m=3.0, mix=(Kin("sedge", 1.0),))
    recipe = Recipe("Made", (WidthRule(width_m=10.0),), (rows, outer))
    x, y = (part.ravel() for part in np.meshgrid(np.arange(2.0, 100.0, 4.0), np.array([0.5, 2.5, 4.5])))
    row = np.repeat([0, 1, 2], 25)
    far = np.column_stack([np.arange(3.0, 99.0, 6.0), np.full(16, 7.5)])
    plants = Plants(
        EAST + np.concatenate([x, far[:, 0]]),
        NORTH + np.concatenate([y, far[:, 1]]),
        np.concatenate([np.zeros(75, np.intp), np.ones(16, np.intp)]),
        np.concatenate([np.arange(75) % 2, np.full(16, 2)]),
        np.concatenate([row, np.full(16, -1)]),
    )
    grounds = [shapely.box(EAST, NORTH, EAST + 100, NORTH + 5), shapely.box(EAST, NORTH + 5, EAST + 100, NORTH + 10)]
    strips = tuple(Strip(0, zone, ground, ground, 500.0, 500.0) for zone, ground in enumerate(grounds))
    line = shapely.LineString([(EAST, NORTH + 12), (EAST + 50, NORTH + 14), (EAST + 100, NORTH + 12)])
    flooded = shapely.LineString([(EAST + 60, NORTH + 13.6), (EAST + 90, NORTH + 12.4)])
    fence = FenceLine(
        0, line, 100.1, np.array([50.0, 50.0]), np.array([0.0, 4.6, 0.0]), 24, 0, 700.0,
        np.array([[EAST + 25.0, NORTH + 13.0]]), 4.0, np.array([[EAST + 75.0, NORTH + 30.0]]), flooded, 30.0,
    )  # fmt: skip
    bank = shapely.LineString([(EAST, NORTH), (EAST + 100, NORTH)])
    kinds = ((0, rows.mix[0]), (0, rows.mix[1]), (1, outer.mix[0]))
    return PlantingPlan(
        "Made", Stretch("Sedge Creek", ("left",), 0.0, 100.0), recipe, 1.0, kinds, strips, plants, (fence,), {0: bank}, 100.0, 1000.0, 1000.0, ()
    )  # fmt: skip


@pytest.fixture
def picture(farm):
    return planting_picture(farm, made_plan(), NAMES.__getitem__)


def view_of(metres_per_mm=0.6, wide_mm=200.0, high_mm=90.0):
    return View(EAST + 48, NORTH + 8, metres_per_mm, wide_mm, high_mm)


def painted(picture, view, crowns=None, look=LOOK, finer=1.0):
    image = blank_image(round(view.width_mm * DOTS * finer), round(view.height_mm * DOTS * finer))
    painter = QPainter(image)
    painter.scale(finer, finer)
    PlantingPainter().paint(painter, picture, view, DOTS, look, crowns)
    painter.end()
    return pixels_of(image).copy()


def at(dots, view, x, y, finer=1.0):
    """Dots within one and a half of a place, as alpha and colours."""
    across, down = view.to_dots(EAST + x, NORTH + y, DOTS * finer)
    right, low = int(across), int(down)
    return dots[low - 1 : low + 2, right - 1 : right + 2]


def test_known_species_keep_their_symbols_and_new_ones_get_others(farm, picture):
    known = species_symbols(farm)
    assert [symbol.code for symbol in picture.symbols] == ["TOTA", "PHTE", "CASE"]
    assert picture.symbols[0] == known["TOTA"]
    looks = {(symbol.colour, symbol.shape, symbol.mark) for symbol in (*known.values(), *picture.symbols)}
    assert len(looks) == len(known) + 2
    assert len({symbol.letter for symbol in (*known.values(), *picture.symbols)}) == len(known) + 2
    assert picture.counts == (38, 37, 16)
    assert picture.counts[0] == (made_plan().plants.kin == 0).sum()


def test_one_species_in_two_zones_is_one_symbol(farm):
    plan = made_plan()
    kinds = (plan.kinds[0], plan.kinds[1], (1, Kin("TOTA", 1.0)))
    made = planting_picture(farm, replace(plan, kinds=kinds), NAMES.__getitem__)
    assert [symbol.code for symbol in made.symbols] == ["TOTA", "PHTE"]
    assert made.counts == (54, 37)


def test_rows_are_pieces_of_one_row_broken_at_gaps(farm, picture):
    assert picture.row_ends.tolist() == [[0, 25], [25, 50], [50, 75]]
    plan = made_plan()
    keep = np.ones(91, bool)
    keep[[10, 11]] = False  # two plants less leave 12 m, three times the spacing
    fewer = Plants(*(getattr(plan.plants, name)[keep] for name in ("x", "y", "strip", "kin", "row")))
    made = planting_picture(farm, replace(plan, plants=fewer), NAMES.__getitem__)
    assert made.row_ends.tolist() == [[0, 10], [10, 23], [23, 48], [48, 73]]


def test_zones_have_a_tint_and_a_hatch_each():
    assert len(set(HATCHES)) == len(set(ZONE_COLOURS)) == 6


def test_strips_plants_and_fence_stand_where_the_ground_says(picture):
    view = view_of()
    dots = painted(picture, view)
    assert (at(dots, view, 50, 9) >> 24).max() > 0
    assert (at(dots, view, 50, -3) >> 24).max() == 0, "nothing is painted on the water side"
    assert (at(dots, view, -4, 2) >> 24).max() == 0
    across, down = (int(part) for part in view.to_dots(EAST + 2, NORTH + 0.5, DOTS))
    around = dots[down - 5 : down + 6, across - 5 : across + 6]
    assert (around == 0xFF000000 | int(picture.symbols[0].colour[1:], 16)).sum() > 20, "the first plant is a tōtara"
    assert (at(dots, view, 50, 14) >> 24).min() > 200, "a strainer post stands in the fence's corner"


def test_trough_gate_and_flood_prone_span_are_marked(picture):
    view = view_of()
    dots = painted(picture, view)
    assert (at(dots, view, 75, 30) >> 24).min() > 200
    fence = picture.fences[0]
    dry = replace(fence, flooded=shapely.LineString(), gates=np.zeros((0, 2)), troughs=np.zeros((0, 2)))
    plain = painted(replace(picture, fences=(dry,)), view)
    for place in ((75, 30), (75, 12.3), (25, 13.0)):
        assert (at(dots, view, *place) != at(plain, view, *place)).any(), place


def test_crowns_are_as_wide_as_they_grow(picture):
    view = view_of(0.2, high_mm=160.0)
    alone = replace(picture, zones=(), fences=(), x=picture.x[12:13], y=picture.y[12:13], symbol=picture.symbol[12:13])
    dots = painted(alone, view, np.array([6.0]))
    assert (dots > 0).sum() * (0.2 / DOTS) ** 2 == pytest.approx(np.pi * 9, rel=0.02)
    down, across = np.nonzero(dots)
    x, y = view.to_dots(EAST + 50, NORTH + 0.5, DOTS)
    assert across.min() == pytest.approx(x - 15 * DOTS, abs=1.5)
    assert down.max() == pytest.approx(y + 15 * DOTS, abs=1.5)
    assert not (painted(alone, view, np.zeros(1)) > 0).sum() > np.pi * 9 / (0.2 / DOTS) ** 2 / 4


def test_crowns_lie_over_the_signs_of_their_plants(picture):
    view = view_of(0.2, high_mm=160.0)
    alone = replace(picture, zones=(), fences=(), x=picture.x[12:13], y=picture.y[12:13], symbol=picture.symbol[12:13])
    x, y = picture.x[12] - EAST, picture.y[12] - NORTH
    bare, grown = (at(painted(alone, view, np.array([crown_m])), view, x, y)[1, 1] for crown_m in (0.0, 6.0))
    green = int(LOOK.areas["crowns"].fill[1:], 16)
    for shift in (16, 8, 0):
        sign, crown, seen = (int(colour) >> shift & 255 for colour in (bare, green, grown))
        assert seen == pytest.approx(sign + CROWN_TINT * (crown - sign), abs=2)


def test_a_finer_screen_shows_the_same_finer(picture):
    view = view_of()
    one, two = painted(picture, view), painted(picture, view, finer=2.0)
    assert two.shape == (one.shape[0] * 2, one.shape[1] * 2)
    covered = [(dots >> 24 > 60).mean() for dots in (one, two)]
    assert covered[1] == pytest.approx(covered[0], rel=0.15)


def test_a_planting_out_of_sight_costs_nothing_and_paints_nothing(picture):
    view = View(EAST + 9_000, NORTH, 0.3, 100.0, 60.0)
    assert not (painted(picture, view, np.ones(len(picture.x))) >> 24).any()


def test_dark_and_light_differ(picture):
    view = view_of()
    assert (painted(picture, view) != painted(picture, view, look=theme("dark"))).any()


def test_a_plan_without_plants_or_fence_is_painted(farm):
    plan = made_plan()
    none = Plants(*(np.zeros(0, kind) for kind in (float, float, np.intp, np.intp, np.intp)))
    made = planting_picture(farm, replace(plan, plants=none, fences=()), NAMES.__getitem__)
    assert (painted(made, view_of()) >> 24).any()
    empty = planting_picture(farm, replace(plan, plants=none, fences=(), strips=()), NAMES.__getitem__)
    assert empty.bounds is None
    assert not (painted(empty, view_of()) >> 24).any()
