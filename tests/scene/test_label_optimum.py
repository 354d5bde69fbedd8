"""How many names find room, beside the most that any choice among the same places could give.

The best choice is found by a general solver of integer programmes (scipy's `milp`, HiGHS): each name at one of its
places or nowhere, no two that touch, the sum of what the written names weigh as large as can be.
"""

import numpy as np
import pytest
import shapely
from scipy.optimize import Bounds, LinearConstraint, milp

from farmmap.scene.label_places import Place, places
from farmmap.scene.labels import EDGE_MM, GAP_MM, Label, place
from farmmap.scene.scene import LabelLayer, Wording
from farmmap.scene.styles import theme
from farmmap.scene.view import View
from tests.scene.test_labels import measure

STYLES = theme("paper").texts
CASES = 40


def small_case(seed: int) -> tuple[LabelLayer, View]:
    """Up to twelve areas, lines and marks close together in a small picture at 1 m to the millimetre."""
    rng = np.random.default_rng(seed)
    wide, high = rng.uniform(35, 80), rng.uniform(22, 50)
    view = View(0.0, 0.0, 1.0, wide, high)
    wordings = []
    for _ in range(int(rng.integers(6, 13))):
        text = " ".join(
            "".join(rng.choice([*"aeioulnrst"], int(rng.integers(3, 8)))) for _ in range(rng.integers(1, 4))
        )
        x, y = rng.uniform(-0.5, 0.5, 2) * (wide - 8, high - 6)
        match rng.choice(["area", "line", "mark"], p=[0.5, 0.25, 0.25]):
            case "area":
                one = Wording(text, STYLES["blocks"], 3 + rng.random(), np.array([[x, y]]), False, rng.uniform(6, 40))
            case "line":
                along = np.linspace(-0.6, 0.6, 30) * wide
                line = np.column_stack([along, y + rng.uniform(0, 6) * np.sin(along / rng.uniform(6, 20))])
                one = Wording(text, STYLES["creeks"], 4 + rng.random(), line, True, 1.2 * wide, 2.0)
            case _:
                one = Wording(text, STYLES["notes"], 1.5 + rng.random() / 9, np.array([[x, y]]), False, np.inf)
        wordings.append(one)
    wordings.sort(key=lambda wording: -wording.importance)
    return LabelLayer(tuple(wordings), None, STYLES["tags"]), view


def all_places(layer: LabelLayer, view: View) -> list[list[Place]]:
    """Every place of every name that lies inside the frame."""
    frame = shapely.box(EDGE_MM, EDGE_MM, view.width_mm - EDGE_MM, view.height_mm - EDGE_MM)
    found = []
    for wording in layer.wordings:
        x, y = (float(v[0]) for v in view.to_mm(*wording.points[:1].T))
        mine = places(wording, x, y, view, measure)
        found.append([one for one in mine if frame.covers(outline(one))])
    return found


def outline(one: Place) -> shapely.Geometry:
    label = Label(one[0], STYLES["tags"], *one[1:6], letters=one[6:])
    return shapely.union_all(shapely.polygons(label.outlines(GAP_MM / 2)))


def best_weight(layer: LabelLayer, view: View) -> float:
    """The most that names which do not touch can weigh together."""
    choices = all_places(layer, view)
    owner = np.repeat(np.arange(len(choices)), [len(mine) for mine in choices])
    weights = np.array([wording.importance for wording in layer.wordings])[owner]
    if not len(owner):
        return 0.0
    shapes = np.array([outline(one) for mine in choices for one in mine])
    one, other = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    pairs = (one < other) & (owner[one] != owner[other])
    rows = np.zeros((len(choices) + pairs.sum(), len(owner)), np.int8)
    rows[owner, np.arange(len(owner))] = 1
    below = np.arange(len(choices), len(rows))
    rows[below, one[pairs]] = rows[below, other[pairs]] = 1
    solved = milp(-weights, constraints=LinearConstraint(rows, ub=1), integrality=1, bounds=Bounds(0, 1))
    assert solved.success
    return -float(solved.fun)


@pytest.fixture(scope="module")
def shares():
    """Weight of what is written, as a share of the most that could be, for every case."""
    found = []
    for seed in range(CASES):
        layer, view = small_case(seed)
        weight = {wording.text: wording.importance for wording in layer.wordings}
        written = sum(weight[label.name] for label in place(layer, view, measure))
        found.append(written / best_weight(layer, view))
    return np.array(found)


def test_names_find_nearly_as_much_room_as_there_can_be(shares):
    assert shares.mean() >= 0.93
    assert shares.min() >= 0.7


def test_no_choice_beats_the_best_one(shares):
    assert shares.max() <= 1 + 1e-9


def test_no_name_gives_way_to_less_important_ones_only():
    """Each place of a name that is not written lies on one that is no less important."""
    looked_at = gave_way = 0
    for seed in range(CASES):
        layer, view = small_case(seed)
        weight = {wording.text: wording.importance for wording in layer.wordings}
        labels = place(layer, view, measure)
        worth = np.array([weight[label.name] for label in labels])
        cell = 0.5  # room is taken in whole cells
        shapes = [shapely.union_all(shapely.polygons(label.outlines(GAP_MM / 2 + cell))) for label in labels]
        for wording, choices in zip(layer.wordings, all_places(layer, view), strict=True):
            if wording.text not in {label.name for label in labels}:
                for one in choices:
                    looked_at += 1
                    gave_way += not (worth[shapely.intersects(shapes, outline(one))] >= wording.importance).any()
    assert looked_at > 200
    assert gave_way <= 0.02 * looked_at  # where a name moved away after less important ones were written about it
