"""Crown cover: the Boolean model's expectation, a real stand, and overlaps of two circles."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from shapely import box

from farmmap.figures.canopy import covered_area
from farmmap.figures.crowns import cover_ratio

SPRUCES = pd.read_csv(Path(__file__).parent / "data" / "spruces.csv")
WINDOW = box(0, 0, 56, 38)
SIDE, RUNS = 200.0, 60


def _random_cover(stems_per_ha: float, crowns_m: list[float], seed: int) -> np.ndarray:
    """Cover of a square by crowns of trees scattered at random (Poisson), also beyond its edge."""
    random, wide = np.random.default_rng(seed), max(crowns_m)
    covers = []
    for _ in range(RUNS):
        area = (SIDE + 2 * wide) ** 2 / 10_000
        crowns = np.concatenate([np.full(random.poisson(stems_per_ha * area), crown) for crown in crowns_m])
        x, y = random.uniform(-wide, SIDE + wide, (2, len(crowns)))
        covers.append(cover_ratio(x, y, crowns, box(0, 0, SIDE, SIDE)))
    return np.array(covers)


@pytest.mark.parametrize(
    ("stems", "crowns", "percent"),
    [
        (100, [8.0], 39.5077),
        (200, [6.0], 43.1916),
        (400, [4.0], 39.5077),
        (250, [5.0], 38.7909),
        (100, [3.0, 5, 8], 53.6843),
    ],
)
def test_random_crowns_cover_what_the_boolean_model_expects(stems: float, crowns: list[float], percent: float) -> None:
    """1 - exp(-N a), Stoyan, Kendall and Mecke 1987; within four standard errors of the runs."""
    expected = 100 * (1 - np.exp(-stems / 1e4 * sum(np.pi / 4 * np.square(crowns))))
    assert expected == pytest.approx(percent, abs=1e-3)
    covers = 100 * _random_cover(stems, crowns, seed=int(stems + len(crowns)))
    error = covers.std(ddof=1) / np.sqrt(RUNS)
    assert error < 0.5
    assert covers.mean() == pytest.approx(expected, abs=4 * error)


@pytest.mark.parametrize(("times", "union", "together"), [(20, 0.828400, 1.283432), (15, 0.602155, 0.721931)])
def test_crowns_of_the_spruces(times: float, union: float, together: float) -> None:
    """Union computed elsewhere with discs drawn as polygons: good to 1e-4."""
    crowns = SPRUCES["marks"].to_numpy() * times
    assert np.sum(np.pi / 4 * crowns**2) / WINDOW.area == pytest.approx(together, abs=1e-6)
    assert cover_ratio(SPRUCES["x"], SPRUCES["y"], crowns, WINDOW) == pytest.approx(union, abs=1e-4)


@pytest.mark.parametrize(
    ("first", "second", "apart", "shared"),
    [(3, 3, 3, 11.055327), (4, 3, 5, 6.641675), (2, 4, 3, 9.570199), (5, 5, 6, 22.364760)],
)
def test_overlap_of_two_crowns(first: float, second: float, apart: float, shared: float) -> None:
    """Textbook geometry of two circles."""
    both = covered_area([0, apart], [0, 0], [first, second], box(-50, -50, 50, 50))
    assert np.pi * (first**2 + second**2) - both == pytest.approx(shared, abs=1e-6)
