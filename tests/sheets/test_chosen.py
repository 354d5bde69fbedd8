"""What is chosen for a sheet is written down and read back, and composed; what cannot be is said."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.errors import BadInput
from farmmap.scene.page_moves import Moved
from farmmap.sheets.chosen import SheetChoices, read, written
from farmmap.sheets.page import SheetOptions
from farmmap.sheets.subjects import SUBJECTS, compose_chosen, title_of

LENGTHS = st.floats(-500, 2000)
MOVED = st.builds(Moved, st.text(max_size=9), LENGTHS, LENGTHS, st.none() | LENGTHS, st.none() | LENGTHS)
OPTIONS = st.builds(
    SheetOptions,
    paper=st.sampled_from(["A4", "A0"]),
    landscape=st.none() | st.booleans(),
    scale=st.none() | st.integers(1, 10**6),
    title=st.none() | st.text(max_size=20),
    hidden=st.frozensets(st.text(max_size=9), max_size=3),
    look=st.sampled_from(["colour", "safe", "grey"]),
    graticule=st.booleans(),
    overview=st.none() | st.booleans(),
    note=st.text(max_size=30),
    version=st.text(max_size=5),
    left_out=st.frozensets(st.text(max_size=9), max_size=3),
    moved=st.lists(MOVED, max_size=3, unique_by=lambda one: one.name).map(tuple),
)
CHOICES = st.builds(SheetChoices, st.sampled_from(list(SUBJECTS)), st.text(max_size=9), OPTIONS)


@given(CHOICES)
def test_choices_come_back_from_json_as_they_were(choices):
    assert read(json.loads(json.dumps(written(choices)))) == (choices, ())


def test_what_is_as_usual_is_not_written_and_the_day_of_printing_never(tmp_path):
    assert written(SheetChoices()) == {"what": "farm", "of": ""}
    once = SheetChoices(options=SheetOptions(folder=tmp_path, look="grey"))
    assert written(once) == {"what": "farm", "of": "", "look": "grey"}


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("scale", -5, "no scale"),
        ("scale", True, "no scale"),
        ("note", 7, "no text"),
        ("graticule", "yes", "neither yes nor no"),
        ("left_out", "key", "no list"),
        ("left_out", [1], "no text"),
        ("moved", [{"name": "key", "x": "left", "y": 0}], "no number"),
        ("moved", [{"name": "key", "x": float("nan"), "y": 0}], "no number"),
        ("moved", {"name": "key"}, "no list"),
        ("glitter", True, "not known"),
    ],
)
def test_what_another_program_spoilt_is_left_out_and_said(name, value, said):
    choices, (note,) = read({"what": "farm", "paper": "A3", name: value})
    assert said in note
    assert choices == SheetChoices(options=SheetOptions(paper="A3"))


def test_moving_an_element_again_replaces_its_place():
    once = SheetChoices().with_moved(Moved("key", 1, 2)).with_moved(Moved("map", 0, 0, 90, 90))
    twice = once.with_moved(Moved("key", 5, 6))
    assert [(one.name, one.x) for one in twice.options.moved] == [("map", 0), ("key", 5)]
    assert twice.is_by_hand
    assert not SheetChoices().is_by_hand


def test_the_chosen_sheet_is_composed_with_its_name_and_scale(farm, day):
    composed = compose_chosen(farm, day, SheetChoices(options=SheetOptions(scale=2500, landscape=True)))
    assert composed.scale == 2500
    assert composed.document.title == farm.settings.name
    assert composed.document.pages[0].paper.is_landscape
    block = str(farm.blocks.index[0])
    name = str(farm.blocks["name"].iloc[0])
    assert title_of(farm, SheetChoices("measuring", block)) == name
    assert name in compose_chosen(farm, day, SheetChoices("measuring", block)).document.title


def test_what_cannot_be_printed_is_said(farm, day):
    for choices, said in (
        (SheetChoices("poster"), "does not know how to print “poster”"),
        (SheetChoices("plan", "Sedge"), "no planting plan is kept"),
        (SheetChoices("measuring", "999"), "choose which one"),
        (SheetChoices("measuring", ""), "choose which one"),
    ):
        with pytest.raises(BadInput, match=said):
            compose_chosen(farm, day, choices)
