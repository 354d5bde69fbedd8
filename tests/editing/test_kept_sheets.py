"""Composed sheets are kept with the farm by edits like any other, and read back."""

import numpy as np
import pandas as pd
import pytest

from farmmap.editing.kept_sheets import (
    free_name,
    kept_sheets,
    sheet_called,
    sheet_changed,
    sheet_kept,
    sheet_removed,
    sheet_renamed,
)
from farmmap.errors import BadInput
from farmmap.farm.farm import shaped
from farmmap.farm.schema import SHEETS
from farmmap.files.farm_file import read_farm, write_edit, write_farm

CHOICES = {
    "paper": "A3",
    "scale": 2500,
    "note": "Tōtara “by hand”, 100 %\nsecond line",
    "moved": [{"name": "key", "x": 12.5, "y": 40.0, "width": None, "height": None}],
    "left_out": ["notes"],
    "overview": None,
}


def test_a_sheet_is_kept_changed_renamed_and_removed_and_all_of_it_back(farm):
    kept = sheet_kept(farm, "  For the   grant ", CHOICES)
    assert kept.edit.name == "Keep sheet For the grant"
    one = kept.edit.apply(farm)
    (sheet,) = kept_sheets(one)
    assert (sheet.name, sheet.choices, sheet.trouble) == ("For the grant", CHOICES, "")
    changed = sheet_changed(one, sheet.id, CHOICES | {"scale": None})
    assert changed.edit.name == "Change sheet For the grant"
    two = changed.edit.apply(one)
    assert sheet_called(two, " for the GRANT ").choices["scale"] is None
    renamed = sheet_renamed(two, sheet.id, "Funder's copy")
    assert renamed.edit.name == "Rename sheet For the grant to Funder's copy"
    three = renamed.edit.apply(two)
    removed = sheet_removed(three, sheet.id)
    assert removed.edit.name == "Remove sheet Funder's copy"
    assert kept_sheets(removed.edit.apply(three)) == ()
    back = removed.edit.apply(three)
    for proposed in (removed, renamed, changed):
        back = proposed.edit.turned_round().apply(back)
    assert kept_sheets(back) == kept_sheets(one)


def test_it_goes_through_the_file(farm, tmp_path):
    path = tmp_path / "farm.gpkg"
    write_farm(farm, path)
    write_edit(path, sheet_kept(farm, "Grant", CHOICES).edit)
    again = read_farm(path)
    assert sheet_called(again, "grant").choices == CHOICES
    write_edit(path, sheet_changed(again, 1, {"paper": "A4"}).edit)
    assert sheet_called(read_farm(path), "Grant").choices == {"paper": "A4"}


def test_names_are_not_taken_twice(farm):
    one = sheet_kept(farm, "Sedge", {}).edit.apply(farm)
    with pytest.raises(BadInput, match="a sheet called Sedge is kept already"):
        sheet_kept(one, "sedge ", {})
    assert free_name(one, "Sedge") == "Sedge 2"
    two = sheet_kept(one, free_name(one, "Sedge"), {}).edit.apply(one)
    assert free_name(two, "Sedge") == "Sedge 3"
    assert free_name(two, " ") == "Sheet"
    assert free_name(sheet_kept(two, "🌲", {}).edit.apply(two), "🌳") == "🌳"
    with pytest.raises(BadInput, match="kept already"):
        sheet_renamed(two, 2, "SEDGE")
    assert sheet_renamed(two, 2, "Sedge 2b").edit.name == "Rename sheet Sedge 2 to Sedge 2b"


def test_what_cannot_be_done_is_said(farm):
    with pytest.raises(BadInput, match="empty"):
        sheet_kept(farm, "   ", {})
    with pytest.raises(BadInput, match="none is kept yet"):
        sheet_called(farm, "Grant")
    one = sheet_kept(farm, "Grant", {"paper": "A4"}).edit.apply(farm)
    with pytest.raises(BadInput, match="it keeps Grant"):
        sheet_called(one, "Graft")
    with pytest.raises(BadInput, match="nothing changes"):
        sheet_changed(one, 1, {"paper": "A4"})
    for refused in (lambda: sheet_changed(one, 7, {}), lambda: sheet_removed(one, 7)):
        with pytest.raises(BadInput, match="not there any more"):
            refused()


@pytest.mark.parametrize("text", ["", "{", "[1, 2]", "null", "[" * 100_000])
def test_choices_that_another_program_spoilt_are_told_and_can_be_removed(farm, text):
    row = shaped(SHEETS, {"name": ["Spoilt"], "choices": [text]}, np.array([4]), farm.grid)
    spoilt = farm.with_tables(sheets=pd.concat([farm.tables["sheets"], row]))
    (sheet,) = kept_sheets(spoilt)
    assert sheet.choices == {}
    assert "cannot be read" in sheet.trouble
    assert kept_sheets(sheet_removed(spoilt, sheet.id).edit.apply(spoilt)) == ()
