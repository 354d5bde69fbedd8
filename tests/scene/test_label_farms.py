"""Names on 500 farms made at random: none lies on another or leaves the frame, and each is a thing's own."""

import datetime as dt

import numpy as np
import pytest
import shapely

from farmmap.figures.standing import standing
from farmmap.scene.label_curves import MOST_BEND_DEG, MOST_TURN_DEG
from farmmap.scene.labels import EDGE_MM, place
from farmmap.scene.styles import theme
from farmmap.scene.trees import tree_layer
from farmmap.scene.wordings import label_layer
from tests.scene.random_farm import random_farm
from tests.scene.test_labels import measure

ON = dt.date(2025, 1, 1)
FARMS = 500


def outlines(labels):
    """What each name covers, the bent ones as all of their letters."""
    return np.array([shapely.union_all(shapely.polygons(label.outlines())) for label in labels], object)


@pytest.fixture(scope="module")
def written():
    """Layer of names, view and the names in their places, of every farm."""
    found = []
    for seed in range(FARMS):
        farm, view = random_farm(seed)
        trees = tree_layer(farm, ON, standing(farm, ON), frozenset()) if len(farm.trees) else None
        layer = label_layer(farm, theme("paper" if seed % 2 else "light"), frozenset(), trees)
        found.append((layer, view, place(layer, view, measure)))
    return found


def test_there_is_something_to_test(written):
    labels = [label for *_, labels in written for label in labels]
    assert len(labels) > 2000
    assert sum(label.angle_deg != 0 for label in labels) > 300
    assert sum(bool(label.letters) for label in labels) > 100
    assert sum("\n" in label.text for label in labels) > 300
    assert sum(label.text.isdigit() for label in labels) > 100
    assert sum(label.text.endswith("…") for label in labels) > 20


def test_no_name_lies_on_another(written):
    for seed, (_, _, labels) in enumerate(written):
        shapes = outlines(labels)
        one, other = shapely.STRtree(shapes).query(shapes, predicate="intersects") if len(shapes) else ((), ())
        for a, b in zip(one, other, strict=True):
            assert a == b, (seed, labels[a].text, labels[b].text)


def test_bent_names_bend_gently_and_read_from_the_left(written):
    for seed, (_, _, labels) in enumerate(written):
        for label in labels:
            angles = np.array([letter.angle_deg for letter in label.letters])
            assert np.abs(angles).max(initial=0.0) <= 90.0, seed
            assert np.abs(np.diff(angles)).max(initial=0.0) <= MOST_TURN_DEG + 1e-9, seed
            assert not len(angles) or np.ptp(angles) <= MOST_BEND_DEG + 1e-9, seed


def test_bent_names_keep_clear_of_their_line_or_lie_between_its_banks(written):
    for seed, (layer, view, labels) in enumerate(written):
        lines = {}
        for wording in layer.wordings:
            if wording.along:
                across, down = view.to_mm(*wording.points.T)
                line = shapely.linestrings(np.column_stack([across, down]))
                lines.setdefault(wording.text, []).append((line, wording.width_m / view.metres_per_mm / 2))
        for label in labels:
            if label.letters:
                (letters,) = outlines([label])
                assert any(
                    half + 0.4 <= line.distance(letters) <= half + 2 * label.style.size_mm
                    or line.buffer(half + 0.1).covers(letters)
                    for line, half in lines[label.name]
                ), seed


def test_no_name_leaves_the_frame(written):
    for seed, (_, view, labels) in enumerate(written):
        edge = EDGE_MM - 1e-6
        frame = shapely.box(edge, edge, view.width_mm - edge, view.height_mm - edge)
        assert shapely.covers(frame, outlines(labels)).all(), seed


def test_names_are_the_farms_own_and_each_thing_has_one(written):
    for layer, _, labels in written:
        tags = set() if layer.tagged is None else set(layer.tagged.tags)
        left = [wording.text for wording in layer.wordings]
        for label in labels:
            if label.name in left:
                left.remove(label.name)
            else:
                assert label.name in tags
