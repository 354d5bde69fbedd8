"""Widths by published rules: each reproduces its own table at and around its limits, and bad tables are refused."""

from __future__ import annotations

import csv
import io
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.errors import BadInput
from farmmap.plans.planting.recipes.limits import ANY, Span, span_from_words
from farmmap.plans.planting.recipes.rules import COLUMNS, GUIDANCE, rule_sets, rule_sets_from_text, width_by_rule
from farmmap.resource_files import resource_path

FT = 0.3048
NAN = math.nan

STATE = "US northern state, felling beside water"
EVEN, UNEVEN = "not trout water, even-aged", "not trout water, uneven-aged"
SIX = "flows six months a year or more"
LESS = "flows less than six months a year"


# widths as the trade guide has them, in its own units; channel in m, slope in degrees
@pytest.mark.parametrize(
    ("rule", "purpose", "channel_m", "slope_deg", "order", "width_m"),
    [
        ("US buffer code 391, one state: zone 1", "", 5, 3, None, 35 * FT),
        ("US buffer code 391, transmittal 349", SIX, 5, 3, 1, 50 * FT),
        ("US buffer code 391, transmittal 349", SIX, 5, 3, 2, 50 * FT),
        ("US buffer code 391, transmittal 349", SIX, 5, 3, 3, 100 * FT),
        ("US buffer code 391, transmittal 349", SIX, 5, 3, 6, 100 * FT),
        ("US buffer code 391, transmittal 349", SIX, 5, 3, None, 100 * FT),  # not known: the widest
        ("US buffer code 391, transmittal 349", LESS, 5, 3, 2, 50 * FT),
        ("US buffer code 391, transmittal 349", LESS, 5, 3, 3, 50 * FT),
        ("US buffer code 391, transmittal 349", LESS, 5, 3, 4, 100 * FT),
        ("US buffer code 391, Mississippi: zone 1", "", 5, 3, None, 15 * FT),
        ("US buffer zones, teaching slides", "zone 1", 5, 3, None, 15 * FT),
        ("US buffer zones, teaching slides", "zones 1 and 2, narrow flood plain", 5, 3, None, 35 * FT),
        ("US buffer zones, teaching slides", "zones 1 and 2, wide flood plain", 5, 3, None, 100 * FT),
        ("US buffer zones, teaching slides", "some wildlife", 5, 3, None, 300 * FT),
        (STATE, f"{EVEN}, flows all year", 10.01 * FT, 3, None, 100 * FT),
        (STATE, f"{EVEN}, flows all year", 10 * FT, 3, None, 50 * FT),
        (STATE, f"{EVEN}, flows all year", 3 * FT, 3, None, 50 * FT),
        (STATE, f"{EVEN}, flows all year", 2.99 * FT, 3, None, 50 * FT),
        (STATE, f"{EVEN}, dries out", 3 * FT, 3, None, 50 * FT),
        (STATE, f"{EVEN}, dries out", 2.99 * FT, 3, None, 0),
        (STATE, f"{UNEVEN}, flows all year", 10.01 * FT, 3, None, 200 * FT),
        (STATE, f"{UNEVEN}, flows all year", 10 * FT, 3, None, 100 * FT),
        (STATE, f"{UNEVEN}, flows all year", 3 * FT, 3, None, 100 * FT),
        (STATE, f"{UNEVEN}, flows all year", 2.99 * FT, 3, None, 50 * FT),
        (STATE, f"{UNEVEN}, dries out", 2.99 * FT, 3, None, 0),
        (STATE, "trout water, even-aged", 1, 3, None, 150 * FT),
        (STATE, "trout water, uneven-aged", 1, 3, None, 200 * FT),
        ("US northern state, filter strip by slope", "", 5, 0, None, 50 * FT),
        ("US northern state, filter strip by slope", "", 5, math.degrees(math.atan(0.10)), None, 50 * FT),
        ("US northern state, filter strip by slope", "", 5, math.degrees(math.atan(0.11)), None, 52 * FT),
        ("US northern state, filter strip by slope", "", 5, math.degrees(math.atan(0.40)), None, 110 * FT),
        ("Texas, felling beside water", "", 5, 3, None, 50 * FT),
        ("Eastern US states, commonest width", "", 5, 3, None, 50 * FT),
        ("North America, mean widths", "kind of water with the narrowest mean", 5, 3, None, 15.1),
        ("North America, mean widths", "kind of water with the widest mean", 5, 3, None, 29.0),
        ("Scottish moorland burning code", "", 1.99, 3, None, 10),
        ("Scottish moorland burning code", "", 2.0, 3, None, 20),
        ("Scottish moorland burning code", "", 2.01, 3, None, 20),
        ("NZ stock exclusion", "", 1.0, 3, None, 0),
        ("NZ stock exclusion", "", 1.01, 3, None, 3),
        ("NZ dairy leaflet, by slope", "", 5, 9.99, None, 1),
        ("NZ dairy leaflet, by slope", "", 5, 10, None, 3),
        ("NZ dairy leaflet, by slope", "", 5, 10.01, None, 3),
        ("NZ dairy advice, natives", "", 5, 3, None, 5),
        ("NZ policy practice note", "river that always flows, lake or wetland", 5, 3, None, 10),
        ("NZ policy practice note", "other river", 5, 3, None, 3),
        ("NZ policy practice note", "sensitive lake or wetland, least", 5, 3, None, 10),
        ("NZ policy practice note", "sensitive lake or wetland, most", 5, 3, None, 20),
        ("NZ Otago draft plan, by slope", "", 5, 10, None, 20),
        ("NZ Otago draft plan, by slope", "", 5, 10.01, None, 50),
        ("NZ field study", "least", 5, 3, None, 8),
        ("NZ field study", "better", 5, 3, None, 10),
        ("Victorian landcare round", "each bank", 5, 3, None, 10),
        ("Victorian landcare round", "mean of the planting", 5, 3, None, 20),
        ("SE Australian creek manual, fence", "mean", 5, 3, None, 20),
        ("SE Australian creek manual, fence", "narrowest spots", 5, 3, None, 15),
        ("Gippsland wildlife corridor", "", 5, 3, None, 20),
    ],
)
def test_each_rule_reproduces_its_table(rule, purpose, channel_m, slope_deg, order, width_m):
    got = width_by_rule(rule_sets()[rule], purpose, channel_m, slope_deg, order)
    assert float(got) == pytest.approx(width_m, abs=1e-3)


def test_every_rule_and_purpose_is_tested_above():
    tested = {(case[0], case[1]) for case in test_each_rule_reproduces_its_table.pytestmark[0].args[1]}
    assert tested == {(name, purpose) for name, rule in rule_sets().items() for purpose in rule.purposes}


def test_every_rule_says_where_it_comes_from_and_that_it_is_guidance():
    for rule in rule_sets().values():
        assert rule.place
        assert rule.source
        assert rule.datum
        assert not rule.own
        assert all(row.condition for row in rule.rows)
        assert rule.words().endswith(f"{GUIDANCE}.")
        assert rule.source in rule.words()
    assert "check your local code" in GUIDANCE


def test_widths_come_for_many_places_at_once():
    rule = rule_sets()["US northern state, filter strip by slope"]
    slopes = np.linspace(0, 40, 81).reshape(3, 27)
    widths = width_by_rule(rule, "", 2.0, slopes)
    assert widths.shape == (3, 27)
    one_by_one = [float(width_by_rule(rule, "", 2.0, slope)) for slope in slopes.ravel()]
    assert np.array_equal(widths.ravel(), one_by_one)
    assert (np.diff(widths.ravel()) >= 0).all()


def test_what_is_not_known_leaves_the_width_unknown_only_where_it_matters():
    rules = rule_sets()
    assert np.isnan(width_by_rule(rules["NZ Otago draft plan, by slope"], "", 2.0, [NAN, 5.0])).tolist() == [
        True,
        False,
    ]
    assert np.isnan(width_by_rule(rules["US northern state, filter strip by slope"], "", 2.0, NAN))
    assert np.isnan(width_by_rule(rules["NZ stock exclusion"], "", NAN, 3.0))
    assert float(width_by_rule(rules["Texas, felling beside water"], "", NAN, NAN)) == pytest.approx(15.24)
    assert rules["NZ Otago draft plan, by slope"].needs_slope("")
    assert rules["US northern state, filter strip by slope"].needs_slope("")
    assert not rules["NZ stock exclusion"].needs_slope("")


def test_an_unknown_or_missing_purpose_is_told():
    rules = rule_sets()
    with pytest.raises(BadInput, match="has several purposes; name one of 'least'; 'better'"):
        width_by_rule(rules["NZ field study"], "", 2.0, 3.0)
    with pytest.raises(BadInput, match="has no purpose 'best'"):
        width_by_rule(rules["NZ field study"], "best", 2.0, 3.0)
    with pytest.raises(BadInput, match="leave the purpose 'best' out"):
        width_by_rule(rules["NZ stock exclusion"], "best", 2.0, 3.0)


def test_own_rules_lie_beside_the_published_ones(tmp_path):
    own = tmp_path / "margin_rules.csv"
    own.write_text(
        "rule_set,place,datum,purpose,slope_percent,width_m,more_m_per_percent,over_percent\n"
        "My council,Pipit county,top of bank,, up to 20 ,6,,\n"
        "My council,Pipit county,top of bank,,over 20,6,0.2,20\n"
        "NZ field study,here,top of bank,,,12,,\n",
        encoding="utf-8-sig",
    )
    rules = rule_sets(own)
    mine = rules["My council"]
    assert (mine.own, mine.source, mine.rows[1].line) == (True, "", 3)
    widths = width_by_rule(mine, "", 2.0, np.degrees(np.arctan([0.0, 0.2, 0.3])))
    assert widths == pytest.approx([6, 6, 8])
    assert float(width_by_rule(rules["NZ field study"], "", 2, 2)) == 12  # an own one takes its place
    assert len(rules) == len(rule_sets()) + 1


@pytest.mark.parametrize(
    ("table", "told"),
    [
        ("rule_set,width_m\nA,ten\n", "line 2: width_m is 'ten', not a number"),
        ("rule_set,width_m\nA,\n", "line 2: width_m is '', not a number"),
        ("rule_set,width_m\nA,nan\nB,-1\nC,501\n", "line 4: width_m is 501; it must lie between 0 and 500"),
        ("rule_set,width_m\n,5\n", "line 2: rule_set is empty"),
        ("rule_set,width_m,channel_m\nA,5,wide\n", "line 2: channel_m is 'wide'; write 'over 3'"),
        ("rule_set,width_m,channel_m\nA,5,from 3 up to 2\n", "nothing lies between those limits"),
        ("rule_set,width_m,channel_m\nA,5,over 3 under 3\n", "nothing lies between those limits"),
        ("rule_set,width_m,channel_m\nA,5,over three\n", "'three' is not a number"),
        ("rule_set,width_m,slope_deg\nA,5,over -3\n", "a limit of -3 cannot be used"),
        ("rule_set,width_m,over_percent\nA,5,10\n", "over_percent is given without more_m_per_percent"),
        ("rule_set,width_m,place\nA,5,x\nA,6,y\n", "line 3: 'A' has another place"),
        ("rule_set,width_m\nA,5,6,7\n", "line 2: 4 cells under 2 headings"),
        ("rule_set\nA\n", "width_m missing"),
        ("rule_set,width_m,width_m\nA,5,5\n", "there twice: width_m"),
        ("rule_set,width_m,breadth\nA,5,5\n", "not known: breadth"),
        ('rule_set,width_m\n"A,5\n', "line 2 of own.csv is not a line of a table"),
        ("rule_set,width_m\n", "holds no rule"),
        ("", "holds no rule"),
        ("rule_set,width_m\n" + "A,5\n" * 20_000, "too many lines"),
    ],
)
def test_a_table_that_cannot_be_used_says_where_and_why(table, told):
    with pytest.raises(BadInput) as error:
        rule_sets_from_text(table, "own.csv")
    assert told in str(error.value)


def test_all_bad_lines_are_told_at_once():
    with pytest.raises(BadInput) as error:
        rule_sets_from_text("rule_set,width_m\nA,x\nB,5\nC,y\n,1\n", "own.csv")
    assert [f"line {n}" in str(error.value) for n in (2, 3, 4, 5)] == [True, False, True, True]


@given(st.text(max_size=300) | st.text('rule_set,widthm\n"ovr 12.-up', max_size=300))
def test_scribbles_give_rules_or_a_message(text):
    for table in (text, f"{','.join(COLUMNS)}\n{text}"):
        try:
            rules = rule_sets_from_text(table, "own.csv")
        except BadInput:
            continue
        assert all(np.isfinite(row.width_m) for rule in rules.values() for row in rule.rows)


limits = st.floats(0, 100).map(lambda value: round(value, 3))


@given(limits, limits, st.sampled_from(["over", "from"]), st.sampled_from(["under", "up to"]))
def test_limits_in_words_mean_what_they_say(one, other, low_word, high_word):
    low, high = sorted((one, other))
    words = f"{low_word} {low} {high_word} {high}"
    if low == high and (low_word, high_word) != ("from", "up to"):
        with pytest.raises(BadInput):
            span_from_words(words, "channel_m")
        return
    span = span_from_words(words, "channel_m")
    at = np.array([low, high, (low + high) / 2, low - 1, high + 1, NAN])
    inside = [low_word == "from" or (low < high and False), high_word == "up to"]
    assert span.holds(at).tolist()[:2] == inside
    assert span.holds(at).tolist()[3:] == [False, False, False]
    if low + 0.01 < high:
        assert span.holds(at)[2]


def test_no_limits_hold_everywhere():
    assert span_from_words("  ", "channel_m") == ANY == Span()
    assert span_from_words("OVER 3", "x") == Span(low=3, with_low=False)


def test_the_file_keeps_to_its_columns_and_holds_no_figure_from_memory():
    text = resource_path("margin_rules.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert tuple(rows[0]) == COLUMNS
    for untold in ("Forestry Standard", "Tasmania", "NSW", "Ireland", "NES-PF"):  # widths nobody has read: trade guide
        assert untold not in text
