"""Published and hand-worked stand figures, and statistics of real stem maps."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from farmmap.figures.stand import (
    basal_area_m2,
    basal_area_per_ha,
    dbh_from_girth_cm,
    diameter_classes,
    lorey_height_m,
    mean,
    qmd_cm,
    qmd_from_basal_area_cm,
    stems_per_ha,
    thickest,
    top_number,
)

DATA = Path(__file__).parent / "data"
PLOT = [28, 31, 25, 40, 36]
THINNED = [18, 20, 22, 24, 25, 26, 28, 30, 31, 34]
TAKEN = [18, 20, 22, 25]


@pytest.mark.parametrize(("dbh", "area"), [(30, 0.0706858), (50, 0.1963495), (60, 0.2827433)])
def test_basal_area_of_a_tree(dbh: float, area: float) -> None:
    """Avery and Burkhart, Forest Measurements, basal area."""
    assert basal_area_m2(dbh) == pytest.approx(area, abs=1e-7)


def test_basal_area_from_girth() -> None:
    """Avery and Burkhart: girth of 100 cm."""
    dbh = dbh_from_girth_cm(100)
    assert dbh == pytest.approx(31.8310, abs=5e-5)
    assert basal_area_m2(dbh) == pytest.approx(0.0795775, abs=1e-7)


def test_basal_area_of_a_twelve_inch_tree() -> None:
    """Point-sampling course: pi/576 = 0.005454154 for inches and square feet."""
    square_feet = float(basal_area_m2(12 * 2.54)) / 0.3048**2
    assert square_feet / 144 == pytest.approx(0.005454154, abs=1e-9)
    assert square_feet == pytest.approx(0.785398, abs=1e-6)


def test_plot_to_hectare() -> None:
    """Textbook plot of 0.05 ha; quadratic mean: Curtis and Marshall 2000."""
    assert stems_per_ha(len(PLOT), 0.05) == pytest.approx(100)
    assert basal_area_per_ha(PLOT, 0.05) == pytest.approx(8.271813, abs=1e-6)
    assert qmd_cm(PLOT) == pytest.approx(32.453043, abs=1e-6)
    assert mean(PLOT) == 32
    assert qmd_cm(PLOT) == pytest.approx(np.sqrt(32.0**2 + np.var(PLOT)), rel=1e-12)


def test_quadratic_mean_from_basal_area_and_stocking() -> None:
    """Curtis and Marshall 2000: G = 30, N = 250."""
    assert qmd_from_basal_area_cm(30, 250) == pytest.approx(39.088201, abs=1e-6)


@pytest.mark.parametrize(
    ("row", "apart", "stems"),
    [
        (2, 2, 2500),
        (2.5, 2.5, 1600),
        (3, 3, 1111.11),
        (4, 4, 625),
        (3, 2, 1666.67),
        (4, 2.5, 1000),
        (5, 3, 666.67),
        (6, 6, 277.78),
        (8, 8, 156.25),
        (10, 10, 100),
    ],
)
def test_stocking_of_rows(row: float, apart: float, stems: float) -> None:
    """Textbook: one tree on every rectangle of row by spacing."""
    assert stems_per_ha(1, row * apart / 10_000) == pytest.approx(stems, abs=0.01)


@pytest.mark.parametrize(
    ("side", "stems"),
    [(2, 2886.75), (3, 1283.00), (4, 721.69), (5, 461.88), (6, 320.75), (8, 180.42), (10, 115.47)],
)
def test_stocking_of_equal_triangles(side: float, stems: float) -> None:
    """Textbook: one tree on every rhombus of two equal triangles."""
    assert stems_per_ha(1, side**2 * np.sqrt(3) / 2 / 10_000) == pytest.approx(stems, abs=0.01)


@pytest.mark.parametrize(
    ("stems", "square", "triangle"),
    [
        (100, 10.0, 10.746),
        (150, 8.165, 8.774),
        (200, 7.071, 7.598),
        (250, 6.325, 6.796),
        (400, 5, 5.373),
        (1000, 3.162, 3.398),
    ],
)
def test_spacing_gives_back_the_stocking(stems: float, square: float, triangle: float) -> None:
    """Textbook spacings, put back into the stocking."""
    assert stems_per_ha(1, square**2 / 1e4) == pytest.approx(stems, rel=4e-4)
    assert stems_per_ha(1, triangle**2 * np.sqrt(3) / 2e4) == pytest.approx(stems, rel=4e-4)


def test_mean_height_by_basal_area() -> None:
    """Lorey's mean height, definition in Brack and Wood 1998."""
    heights = [19.5, 21, 18, 23.5, 22]
    assert lorey_height_m(heights, PLOT) == pytest.approx(21.426320, abs=1e-6)
    assert mean(heights) == pytest.approx(20.8)


def test_a_stand_before_and_after_thinning() -> None:
    """Textbook thinning of 0.02 ha."""
    left = [d for d in THINNED if d not in TAKEN]
    assert basal_area_per_ha(THINNED, 0.02) == pytest.approx(27.041259, abs=1e-5)
    assert qmd_cm(THINNED) == pytest.approx(26.241189, abs=1e-5)
    assert basal_area_per_ha(TAKEN, 0.02) == pytest.approx(7.198174, abs=1e-5)
    assert qmd_cm(TAKEN) == pytest.approx(21.406775, abs=1e-5)
    assert (stems_per_ha(len(left), 0.02), basal_area_per_ha(left, 0.02), qmd_cm(left)) == pytest.approx(
        (300, 19.843085, 29.020108), abs=1e-5
    )


def test_norway_spruce_in_saxony() -> None:
    """Stoyan, Kendall and Mecke 1987: 134 spruces on 56 m by 38 m, diameters in metres."""
    dbh = pd.read_csv(DATA / "spruces.csv")["marks"].to_numpy() * 100
    area = 56 * 38 / 10_000
    assert stems_per_ha(len(dbh), area) == pytest.approx(629.6992, abs=1e-4)
    assert basal_area_per_ha(dbh, area) == pytest.approx(32.085803, abs=1e-6)
    assert qmd_cm(dbh) == pytest.approx(25.470937, abs=1e-6)
    assert mean(dbh) == pytest.approx(25.037313, abs=1e-6)
    lower, counts = diameter_classes(dbh, 10)
    assert (lower.tolist(), counts.tolist()) == ([10, 20, 30], [13, 100, 21])
    assert top_number(area) == 21
    top = dbh[thickest(dbh, 21)]
    assert mean(top) == pytest.approx(33.714286, abs=1e-6)
    assert qmd_cm(top) == pytest.approx(33.759655, abs=1e-6)


def test_black_cherries() -> None:
    """Ryan, Joiner and Ryan 1976: 31 felled stems, diameters in inches."""
    dbh = pd.read_csv(DATA / "black_cherry.csv")["Girth"].to_numpy() * 2.54
    assert len(dbh) == 31
    assert basal_area_m2(dbh).sum() == pytest.approx(2.906753, abs=1e-6)
    assert qmd_cm(dbh) == pytest.approx(34.552404, abs=1e-6)
    assert mean(dbh) == pytest.approx(33.650903, abs=1e-6)


def test_pine_saplings_in_finland() -> None:
    """Penttinen, in van Lieshout 2004: 126 saplings on 10 m by 10 m, six below 1.3 m."""
    pines = pd.read_csv(DATA / "finpines.csv")
    assert stems_per_ha(len(pines), 0.01) == pytest.approx(12_600)
    assert mean(pines["height"]) == pytest.approx(2.828175, abs=1e-6)
    assert mean(pines["diameter"]) == pytest.approx(2.531746, abs=1e-6)
    assert int((pines["height"] >= 1.3).sum()) == 120


def test_mixed_hardwoods_at_lansing() -> None:
    """Gerrard 1969: 2,251 trees on a square of 924 ft."""
    trees = pd.read_csv(DATA / "lansing.csv")
    area = (924 * 0.3048) ** 2 / 10_000
    assert area == pytest.approx(7.931839, abs=1e-6)
    assert stems_per_ha(len(trees), area) == pytest.approx(283.7930, abs=1e-4)
    counts = trees["marks"].value_counts()
    assert counts.sort_values().tolist() == [105, 135, 346, 448, 514, 703]
    assert stems_per_ha(int(counts["hickory"]), area) == pytest.approx(88.6301, abs=1e-4)
