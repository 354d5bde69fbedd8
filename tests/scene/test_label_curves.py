"""Names that bend with their line: their letters keep their distances, follow the course and read from the left."""

import numpy as np
import pytest
import shapely

from farmmap.scene.label_curves import MOST_BEND_DEG, MOST_TURN_DEG, letters_apart
from farmmap.scene.label_places import places
from farmmap.scene.labels import Label, place
from farmmap.scene.scene import LabelLayer, Wording
from farmmap.scene.styles import theme
from farmmap.scene.view import View
from tests.scene.test_labels import measure

STYLES = theme("paper").texts
VIEW = View(0.0, 0.0, 1.0, 160.0, 120.0)
"""One metre to the millimetre."""


def arc(radius, first_deg=160.0, last_deg=20.0, shake=0.0):
    """A line that bends all the way, over the top from left to right."""
    angle = np.radians(np.linspace(first_deg, last_deg, 200))
    out = radius + shake * np.sin(40 * angle)
    return np.column_stack([out * np.cos(angle), out * np.sin(angle) - radius / 2])


def winding():
    x = np.linspace(-75, 75, 400)
    return np.column_stack([x, 4 * np.sin(x / 6)])


def named(points, text="Sedge Creek", width_m=0.5):
    wording = Wording(text, STYLES["creeks"], 4.0, points, True, 150.0, width_m)
    (label,) = place(LabelLayer((wording,), None, STYLES["tags"]), VIEW, measure)
    return label


def line_of(points):
    return shapely.LineString(np.column_stack(VIEW.to_mm(*points.T)))


def angles_of(label):
    return np.array([letter.angle_deg for letter in label.letters])


@pytest.mark.parametrize("backwards", [False, True])
@pytest.mark.parametrize("points", [arc(30), arc(30, 200, 340), arc(45, 100, -60), winding()])
def test_letters_follow_a_winding_line_and_read_from_the_left(points, backwards):
    points = points[::-1] if backwards else points
    label, line = named(points), line_of(points)
    assert "".join(letter.text for letter in label.letters) == "Sedge Creek"
    assert np.abs(angles_of(label)).max() <= 90
    for letter in label.letters:
        x, y = label.x_mm + letter.x_mm, label.y_mm + letter.y_mm
        at = line.project(shapely.Point(x, y))
        (ax, ay), (bx, by) = (line.interpolate(at + off).coords[0] for off in (-0.5, 0.5))
        off = letter.angle_deg - np.degrees(np.arctan2(by - ay, bx - ax))
        assert abs((off + 90) % 180 - 90) < 12


def test_letters_stand_as_far_apart_as_in_a_straight_name():
    label = named(arc(30))
    middles = np.array([[letter.x_mm, letter.y_mm] for letter in label.letters])
    apart = np.hypot(*np.diff(middles, axis=0).T)
    assert apart == pytest.approx(np.full(10, 0.5 * STYLES["creeks"].size_mm), rel=0.02)


@pytest.mark.parametrize("points", [arc(30), arc(30, shake=0.4), winding()])
def test_a_bent_name_keeps_clear_of_its_line_and_close_to_it(points):
    letters = shapely.union_all(shapely.polygons(named(points).outlines()))
    assert 0.25 + 0.4 <= line_of(points).distance(letters) <= 3.0


def test_a_bent_name_lies_between_the_banks_where_they_are_wide():
    points = arc(40)
    letters = shapely.union_all(shapely.polygons(named(points, width_m=9.0).outlines()))
    assert len(named(points, width_m=9.0).letters) == 11
    assert line_of(points).buffer(4.5).covers(letters)


def test_bends_are_gentle_wherever_a_name_may_lie():
    wording = Wording("Sedge Creek", STYLES["creeks"], 4.0, winding(), True, 150.0, 0.5)
    bent = [one for one in places(wording, 0.0, 0.0, VIEW, measure) if one[6:]]
    assert len(bent) > 5
    for one in bent:
        angles = np.array([letter.angle_deg for letter in one[6:]])
        assert np.abs(np.diff(angles)).max() <= MOST_TURN_DEG + 1e-9
        assert np.ptp(angles) <= MOST_BEND_DEG + 1e-9
        around = Label(one[0], STYLES["creeks"], *one[1:6], letters=one[6:])
        covered = shapely.union_all(shapely.polygons(around.outlines())).bounds
        assert (*around.corners()[0], *around.corners()[2]) == pytest.approx(covered)


@pytest.mark.parametrize("points", [arc(4), np.column_stack([np.linspace(-70, 70, 9), [0, 9] * 4 + [0]])])
def test_no_name_is_bent_round_a_corner_or_a_tight_bend(points):
    wording = Wording("Sedge Creek upper", STYLES["creeks"], 4.0, points, True, 150.0, 0.5)
    for one in places(wording, 0.0, 0.0, VIEW, measure):
        angles = [letter.angle_deg for letter in one[6:]]
        assert np.abs(np.diff(angles)).max(initial=0.0) <= MOST_TURN_DEG + 1e-9


def test_a_name_is_straight_where_its_line_is():
    half_bent = np.concatenate([np.column_stack([np.linspace(-75, 20, 50), np.zeros(50)]), [[30, 4], [35, 10]]])
    for points in (np.array([[-70.0, -10], [70, 10]]), half_bent):
        assert not named(points).letters


@pytest.mark.parametrize("text", ["مزرعة النهر", "नदी का खेत", "แม่น้ำสายยาว", "Creek 🌳 bend"])
def test_letters_that_join_or_bear_marks_stay_in_one_piece(text):
    assert letters_apart(text) == ""
    assert not named(winding(), text).letters


@pytest.mark.parametrize(
    ("text", "letters"),
    [
        ("Ōtū – “Ế”", "Ōtū – “Ế”"),
        ("O\u0304tu\u0304", "Ōtū"),
        ("Ελιά 7", "Ελιά 7"),
        ("竹林", "竹林"),
        ("x\u0323\u0361", ""),
    ],
)
def test_letters_that_stand_alone_are_told_apart(text, letters):
    assert letters_apart(text) == letters
