"""The window's smaller parts, each by itself."""

import datetime as dt
import itertools

import pytest

from farmmap.farm.day_words import in_words
from farmmap.farm.farm import new_farm
from farmmap.figures.margins import margins
from farmmap.scene.scene import Chosen
from farmmap.window.farm_days import farm_days
from farmmap.window.find import find_things
from farmmap.window.preferences import MOST_RECENT
from farmmap.window.session import Session
from farmmap.window.status_line import in_threes
from farmmap.window.theme import DARK, LIGHT, theme_for

TODAY = dt.date(2026, 11, 25)


def luminance(colour):
    """Relative luminance (WCAG 2.2)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("theme", [LIGHT, DARK])
def test_words_stand_out_from_their_ground(theme):
    for ink, ground in itertools.product(
        (theme.text, theme.quiet, theme.warning), (theme.window, theme.base, theme.raised)
    ):
        assert contrast(ink, ground) >= 4.5, (ink, ground)
    assert contrast(theme.on_accent, theme.accent) >= 4.5
    for ground in (theme.window, theme.base):
        assert contrast(theme.edge, ground) >= 3.0
        assert contrast(theme.accent, ground) >= 3.0


def test_theme_follows_the_choice(qapp):
    assert theme_for(qapp, "dark") is DARK
    assert theme_for(qapp, "light") is LIGHT
    assert theme_for(qapp, "system") in (LIGHT, DARK)


def test_days_run_from_first_planting_to_today(farm):
    days = farm_days(farm, TODAY)
    assert (days.first, days.last, days.newest) == (dt.date(2004, 7, 1), TODAY, dt.date(2020, 5, 1))
    assert days.measured == (dt.date(2012, 5, 1), dt.date(2020, 5, 1))


def test_days_of_an_empty_farm_end_today():
    days = farm_days(new_farm("Heron Flat", 2193), TODAY)
    assert days.last == days.newest == TODAY
    assert days.measured == ()
    assert days.first < TODAY


def test_a_measurement_after_today_is_still_reached(farm):
    assert farm_days(farm, dt.date(2015, 1, 1)).last == dt.date(2020, 5, 1)


def test_days_and_metres_in_words():
    assert in_words(dt.date(2026, 5, 3)) == "3 May 2026"
    assert in_threes(5478020.4) == "5 478 020"


def test_finding_ranks_exact_before_beginning_before_middle(farm):
    strips = margins(farm)
    assert [found.chosen for found in find_things(farm, strips, "1")] == [Chosen("tree", 1)]
    assert find_things(farm, strips, "TERRACE")[0].chosen == Chosen("block", 1)
    assert [found.words for found in find_things(farm, strips, "sedge")] == [
        "Sedge Creek, left bank",
        "Sedge Creek, right bank",
    ]
    assert find_things(farm, strips, "  ") == []
    assert len(find_things(farm, strips, "e", most=2)) == 2


def test_what_is_only_planned_is_found_as_planned(farm):
    blocks, trees = farm.blocks.copy(), farm.trees.copy()
    blocks["stage"], trees["stage"] = ["existing", "planned"], "planned"
    planned = farm.with_tables(blocks=blocks, trees=trees)
    assert [found.words for found in find_things(planned, [], "slope")] == ["Far Slope, planned block"]
    assert [found.words for found in find_things(planned, [], "2")] == ["2, planned tree (TOTA)"]
    assert [found.words for found in find_things(farm, [], "2")] == ["2, tree (TOTA)"]


def test_session_tells_only_of_changes(qtbot, farm):
    session = Session()
    session.open_farm(farm, None, farm_days(farm, TODAY))
    with qtbot.assertNotEmitted(session.date_changed):
        session.set_date(dt.date(2020, 5, 1))
    with qtbot.waitSignal(session.date_changed):
        session.set_date(dt.date(2019, 5, 1))
    with qtbot.waitSignal(session.hidden_changed):
        session.show_layer("blocks", shown=False)
    with qtbot.assertNotEmitted(session.hidden_changed):
        session.show_layer("blocks", shown=False)
    session.choose(Chosen("tree", 1))
    session.replace_farm(farm.with_tables(trees=farm.trees.drop(index=1)), farm_days(farm, TODAY))
    assert session.chosen is None


def test_preferences_keep_the_last_few_farms(preferences, tmp_path):
    paths = [tmp_path / f"{number}.gpkg" for number in range(MOST_RECENT + 2)]
    for path in paths:
        path.touch()
        preferences.remember_farm(path)
    paths[-1].unlink()
    assert preferences.recent == [path.resolve() for path in reversed(paths[2:-1])]
    preferences.colours = "nonsense"
    assert preferences.colours == "system"
