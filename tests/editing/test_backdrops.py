"""Adding, changing and taking out backdrops are edits like any other."""

import numpy as np
import pytest

from farmmap.editing.backdrops import backdrop_added, backdrop_changed, backdrop_removed
from farmmap.errors import BadInput
from farmmap.files.farm_file import read_farm, write_edit, write_farm
from tests.files.raster_files import north_up, raster_file
from tests.place import EAST, NORTH


@pytest.fixture
def hills(tmp_path):
    folder = tmp_path / "pictures"
    folder.mkdir()
    values = np.ones((1, 60, 60), np.float32)
    return raster_file(folder / "north_hills.tif", values, north_up(EAST - 20, NORTH + 200, 5.0))


def test_added_changed_and_taken_out_and_all_of_it_back(farm, hills, tmp_path):
    proposed = backdrop_added(farm, hills, tmp_path)
    assert proposed.edit.name == "Add backdrop north hills"
    assert "in metres" in proposed.notes[0]
    one = proposed.edit.apply(farm)
    row = one.tables["backdrops"].iloc[0]
    assert (row["path"], row["kind"], row["shown"]) == ("pictures/north_hills.tif", "elevation", "yes")
    hidden = backdrop_changed(one, 1, {"shown": "no"})
    assert hidden.edit.name == "Hide backdrop north hills"
    two = backdrop_changed(hidden.edit.apply(one), 1, {"opacity_percent": 40, "contour_m": 2.0}).edit
    after = two.apply(hidden.edit.apply(one))
    assert after.tables["backdrops"].loc[1, "opacity_percent"] == 40.0
    gone = backdrop_removed(after, 1)
    assert gone.edit.name == "Take away backdrop north hills"
    assert not len(gone.edit.apply(after).tables["backdrops"])
    back = gone.edit.turned_round().apply(gone.edit.apply(after))
    assert back.tables["backdrops"].equals(after.tables["backdrops"])


def test_they_go_through_the_file(farm, hills, tmp_path):
    path = tmp_path / "farm.gpkg"
    write_farm(farm, path)
    proposed = backdrop_added(farm, hills, tmp_path, name="Hills")
    write_edit(path, proposed.edit)
    again = read_farm(path).tables["backdrops"]
    assert again.equals(proposed.edit.apply(farm).tables["backdrops"])


def test_a_file_elsewhere_keeps_its_whole_path(farm, hills, tmp_path):
    elsewhere = tmp_path / "farms"
    elsewhere.mkdir()
    edit = backdrop_added(farm, hills, elsewhere).edit
    assert edit.apply(farm).tables["backdrops"]["path"].iloc[0] == str(hills)


def test_one_that_lies_far_away_is_remarked_on(farm, tmp_path):
    path = raster_file(tmp_path / "far.tif", np.ones((1, 9, 9), np.float32), north_up(EAST + 9_000, NORTH, 5.0))
    assert any("does not reach the farm" in note for note in backdrop_added(farm, path, tmp_path).notes)


def test_what_cannot_be_done_is_said(farm, hills, tmp_path):
    one = backdrop_added(farm, hills, tmp_path).edit.apply(farm)
    with pytest.raises(BadInput, match="among the backdrops already"):
        backdrop_added(one, hills, tmp_path)
    with pytest.raises(BadInput, match="is not in"):
        backdrop_added(one, tmp_path / "nothing.tif", tmp_path)
    with pytest.raises(BadInput, match="nothing changes"):
        backdrop_changed(one, 1, {"shown": "yes"})
    with pytest.raises(BadInput, match="can be yes, no, not 'perhaps'"):
        backdrop_changed(one, 1, {"shown": "perhaps"})
    with pytest.raises(BadInput, match="0 to 100 %"):
        backdrop_changed(one, 1, {"opacity_percent": 120.0})
    with pytest.raises(BadInput, match="is empty"):
        backdrop_changed(one, 1, {"name": " "})
    with pytest.raises(BadInput, match="not there any more"):
        backdrop_removed(one, 7)
    picture = raster_file(tmp_path / "p.tif", np.ones((3, 9, 9), np.uint8), north_up(EAST, NORTH, 5.0))
    with pytest.raises(BadInput, match="add it as a picture"):
        backdrop_added(one, picture, tmp_path, kind="elevation")
