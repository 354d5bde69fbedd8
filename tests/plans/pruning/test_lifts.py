"""Lifts: those that come with farmmap, the grower's own before them, and what is refused in words."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.errors import BadInput
from farmmap.farm.species import known_species
from farmmap.plans.pruning.lifts import NO_REGIME, Lift, Regimes, checked, regimes_of, shipped_regimes
from farmmap.plans.pruning.own_lifts import lifts_set
from tests.plans.pruning.prunable import prunable

ROW = {"lift": 1, "to_m": "2.2", "tree_height_m": "5", "crown_left_percent": "50"}


def test_shipped_lifts_can_be_followed_and_say_where_they_come_from():
    regimes = shipped_regimes()
    assert set(regimes) <= {known.code for known in known_species()}
    for code, regime in regimes.items():
        assert regime.lifts, code
        assert all(lift.source for lift in regime.lifts), code
        assert [lift.number for lift in regime.lifts] == list(range(1, len(regime.lifts) + 1))


def test_eucalypts_as_the_extension_guide_has_it():
    """D4: start at about 5 m tall, three or four lifts; D5: 400, 200, 150 stems; D6: form pruning from 2 m to 6.5 m."""
    regime = shipped_regimes()["EGLU"]
    assert regime.lifts[0].tree_height_m == 5.0
    assert len(regime.lifts) in (3, 4)
    assert [lift.stems_per_ha for lift in regime.lifts] == [400, 200, 150]
    assert regime.form is not None
    assert (regime.form.tree_height_m, regime.form.to_m, regime.form.stems_per_ha) == (2.0, 6.5, 500.0)
    assert "early spring" in regime.season


def test_form_diagram_example():
    """D10: stem pruned up to 12 cm at most, half of the crown left."""
    for lift in shipped_regimes()["EGLU"].lifts:
        assert lift.dos_cm == 12.0
        assert 100 * (1 - lift.to_m / lift.tree_height_m) >= 49.5


def test_conifers_over_stubs_as_the_government_page_has_it():
    """D9: 10 to 18 cm over the stubs."""
    assert all(10 <= lift.dos_cm <= 18 for lift in shipped_regimes()["PRAD"].lifts)
    assert any("from memory" in source for source in shipped_regimes()["PRAD"].sources)


@pytest.mark.parametrize("code", ["SSEM", "JNIG", "PTOM", "PTOT"])
def test_what_the_trade_guide_is_not_sure_of_is_no_default(code):
    assert code not in shipped_regimes()


def test_the_closest_own_lifts_hold():
    lifts = [
        {"species": "PRAD", "block": "North", "to_m": 1.0, "tree_height_m": 4.0},
        {"species": "PRAD", "block": "", "to_m": 2.0, "tree_height_m": 5.0},
        {"species": "", "block": "North", "to_m": 3.0, "tree_height_m": 6.0},
        {"species": "", "block": "", "to_m": 3.5, "tree_height_m": 7.0},
    ]
    book = regimes_of(prunable([], [], lifts))
    tops = [book.of(*key).lifts[0].to_m for key in (("PRAD", "North"), ("PRAD", "South"), ("X", "North"), ("X", ""))]
    assert tops == [1.0, 2.0, 3.0, 3.5]
    none = regimes_of(prunable([], [], []))
    assert none.of("PRAD", "North") is shipped_regimes()["PRAD"]
    assert none.of("X", "North") is NO_REGIME


@pytest.mark.parametrize(
    ("lifts", "words"),
    [
        ([Lift(1, 4.0, 9.0), Lift(2, 3.0, 10.0)], "lift 2 prunes to 3 m, no higher than lift 1"),
        ([Lift(1, 2.0, 9.0), Lift(2, 3.0, 8.0)], "sooner than lift 1"),
        ([Lift(1, 2.0, 9.0), Lift(1, 3.0, 10.0)], "lift 1 is given twice"),
        ([Lift(1, 2.0)], "does not say when it is due"),
        ([Lift(1, 5.0, 5.0)], "leaves no crown"),
        ([Lift(1, 4.0, 5.0, crown_left_percent=50.0)], "leaves 20 %"),
        ([Lift(1, 2.0, crown_left_percent=100.0)], "nothing to prune"),
        ([Lift(1, math.nan, 5.0)], "needs the height to which it prunes"),
        ([Lift(1, 2.0, dos_cm=0.0)], "more than 0"),
        ([Lift(1, 2.0, 5.0, stems_per_ha=100), Lift(2, 4.0, 9.0, stems_per_ha=200)], "more than lift 1"),
    ],
)
def test_lifts_that_cannot_be_followed_are_refused(lifts, words):
    with pytest.raises(BadInput, match=words):
        checked(lifts)


def test_lifts_are_put_in_order():
    assert [lift.number for lift in checked([Lift(2, 4.0, 9.0), Lift(1, 2.0, 5.0)])] == [1, 2]
    assert Lift(1, 3.0, crown_left_percent=50.0).tall_enough_m == pytest.approx(6.0)


def test_own_lifts_that_cannot_be_followed_are_not_used_and_nothing_takes_their_place():
    farm = prunable([], [], [{"species": "PRAD", "to_m": 4.0, "tree_height_m": 3.0}])
    book = regimes_of(farm)
    assert book.of("PRAD", "").lifts == ()
    assert len(book.troubles) == 1
    assert "PRAD" in book.troubles[0]
    assert "leaves no crown" in book.troubles[0]


def test_own_lifts_are_set_changed_and_taken_away_in_one_edit_each():
    farm = prunable([{}], [], [])
    first = lifts_set(farm, "TOTA", "North", [ROW, {**ROW, "lift": 2, "to_m": "4,5", "tree_height_m": "9"}])
    assert first.edit.name == "Set lifts of TOTA in North"
    farm = first.edit.apply(farm)
    assert [lift.to_m for lift in regimes_of(farm).of("TOTA", "North").lifts] == [2.2, 4.5]
    with pytest.raises(BadInput, match="so already"):
        lifts_set(farm, "TOTA", "North", [ROW, {**ROW, "lift": 2, "to_m": "4.5", "tree_height_m": "9"}])
    farm = lifts_set(farm, "TOTA", "North", [ROW]).edit.apply(farm)
    assert len(farm.tables["regimes"]) == 1
    gone = lifts_set(farm, "TOTA", "North", [])
    after = gone.edit.apply(farm)
    assert regimes_of(after).of("TOTA", "North") is NO_REGIME
    back = gone.edit.turned_round().apply(after)
    assert back.tables["regimes"].equals(farm.tables["regimes"])


def test_form_pruning_is_kept_beside_lifts():
    farm = prunable([{}], [], [])
    form = {"lift": 1, "to_m": 6, "tree_height_m": 2, "kind": "form"}
    farm = lifts_set(farm, "TOTA", "", [form, ROW]).edit.apply(farm)
    regime = regimes_of(farm).of("TOTA", "North")
    assert len(regime.lifts) == 1
    assert regime.form is not None
    assert regime.form.to_m == 6
    assert sorted(farm.tables["regimes"]["kind"]) == ["clear", "form"]


def test_a_note_makes_no_lift_form_pruning():
    farm = lifts_set(prunable([{}], [], []), "TOTA", "", [{**ROW, "note": "form pruning was done"}]).edit.apply(
        prunable([{}], [], [])
    )
    regime = regimes_of(farm).of("TOTA", "")
    assert (len(regime.lifts), regime.form) == (1, None)


def test_an_unknown_kind_of_lift_is_refused():
    with pytest.raises(BadInput, match="shape"):
        lifts_set(prunable([{}], [], []), "TOTA", "", [{**ROW, "kind": "shape"}])


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([{**ROW, "to_m": "six"}], "the upper height of a pruning lift is no number: 'six'"),
        ([{**ROW, "to_m": ""}], "is empty; give the height to which this lift prunes"),
        ([ROW, ROW], "given twice"),
        ([{**ROW, "kind": "form"}] * 2, "more than once"),
        ([{"to_m": 6, "kind": "form"}], "from which it is done"),
        ([{"to_m": 2, "tree_height_m": 3, "kind": "form"}], "comes to nothing"),
        ([], "no lifts of your own"),
    ],
)
def test_what_is_typed_is_refused_in_words(rows, words):
    with pytest.raises(BadInput, match=words):
        lifts_set(prunable([{}], [], []), "TOTA", "", rows)


def test_a_block_that_is_not_there():
    with pytest.raises(BadInput, match="no block called Nowhere"):
        lifts_set(prunable([{}], [], []), "TOTA", "Nowhere", [ROW])


def test_a_table_without_rows_has_no_troubles():
    assert Regimes(prunable([], [], []).tables["regimes"]).troubles == ()


figure = st.one_of(st.just(math.nan), st.floats(0.0, 40.0))


@given(st.lists(st.builds(Lift, st.integers(1, 4), figure, figure, figure, figure, st.floats(0.0, 100.0)), max_size=4))
def test_whatever_is_written_is_refused_in_words_or_can_be_followed(lifts):
    try:
        found = checked(lifts)
    except BadInput:
        return
    tops = [lift.to_m for lift in found]
    assert tops == sorted(set(tops))
    for lift in found:
        assert not math.isnan(lift.tall_enough_m) or lift.dos_cm > 0
        assert math.isnan(lift.tall_enough_m) or lift.tall_enough_m >= lift.to_m
