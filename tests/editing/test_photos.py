"""Photo points and photographs are put in, moved, told apart and taken out, and every edit can be taken back."""

import datetime as dt
import math

import numpy as np
import pytest

from farmmap.editing.fields import fields_changed
from farmmap.editing.photos import (
    photo_changed,
    photo_found,
    photo_point_placed,
    photo_points_moved,
    photos_added,
    photos_removed,
    point_named,
)
from farmmap.editing.reshape import rows_removed
from farmmap.errors import BadInput
from farmmap.farm.farm import new_farm
from farmmap.farm.grids import transform
from farmmap.figures.magnetic import declination
from tests.photo_files import write_photo
from tests.place import EAST, NORTH

TAKEN = "2025:04:01 10:00:00"


def lon_lat(x, y):
    lon, lat = transform([x], [y], 2193, 4326)
    return float(lon[0]), float(lat[0])


def done(farm, proposed):
    after = proposed.edit.apply(farm)
    back = proposed.edit.turned_round().apply(after)
    for name in ("photo_points", "photos"):
        assert back.tables[name].equals(farm.tables[name]), name
    return after


@pytest.fixture
def with_point(farm):
    return done(farm, photo_point_placed(farm, EAST + 50, NORTH + 50, (EAST + 60, NORTH + 60)))


def test_a_point_looks_where_it_was_pointed(with_point):
    (row,) = with_point.tables["photo_points"].to_dict("records")
    assert (row["name"], row["bearing_deg"], row["x"]) == ("P1", 45.0, EAST + 50)
    assert math.isnan(row["height_m"])
    next_one = photo_point_placed(with_point, EAST, NORTH, values={"height_m": "1.5 m", "bearing_deg": 10})
    assert next_one.edit.name == "Draw photo point P2"
    again = photo_point_placed(with_point, EAST, NORTH, values={"name": "P1"})
    assert "already" in again.notes[0]
    far = photo_point_placed(with_point, EAST + 90_000, NORTH)
    assert "km" in " ".join(far.notes)
    with pytest.raises(BadInput, match="believable"):
        photo_point_placed(with_point, EAST, NORTH, values={"bearing_deg": 400})


def test_points_move_and_turn_and_are_named(with_point):
    moved = done(with_point, photo_points_moved(with_point, [1], 5.0, -5.0)).tables["photo_points"]
    assert moved[["x", "y", "bearing_deg"]].to_numpy().tolist() == [[EAST + 55, NORTH + 45, 45.0]]
    turned = fields_changed(with_point, "photo_points", [1], {"bearing_deg": "90", "name": "Ford"})
    assert turned.edit.name == "Change bearing and name of photo point P1"
    assert point_named(done(with_point, turned), " ford ") == 1
    with pytest.raises(BadInput, match="there is no photo point Gate; there are P1"):
        point_named(with_point, "Gate")
    with pytest.raises(BadInput, match="not there any more"):
        photo_points_moved(with_point, [4], 1, 1)


def test_photographs_keep_their_files_where_they_are(with_point, tmp_path):
    inside, outside = tmp_path / "farm" / "photos", tmp_path / "elsewhere"
    for folder in (inside, outside):
        folder.mkdir(parents=True)
        write_photo(folder / "a.jpg", taken=TAKEN)
    proposed = photos_added(
        with_point, [inside / "a.jpg", outside / "a.jpg"], tmp_path / "farm", point=1, caption=" Bank "
    )
    assert proposed.edit.name == "Add 2 photographs"
    farm = done(with_point, proposed)
    photos = farm.tables["photos"]
    assert photos["path"].tolist() == ["photos/a.jpg", str(outside / "a.jpg")]
    assert photos["photo_point"].tolist() == [1, 1]
    assert photos["caption"].tolist() == ["Bank", "Bank"]
    assert photos["taken_on"].dt.date.tolist() == [dt.date(2025, 4, 1)] * 2
    with pytest.raises(BadInput, match=r"^a\.jpg is among the photographs already$"):
        photos_added(farm, [inside / "a.jpg"], tmp_path / "farm")
    with pytest.raises(BadInput, match="each of them is among the photographs already"):
        photos_added(farm, [inside / "a.jpg", outside / "a.jpg"], tmp_path / "farm")
    new = write_photo(inside / "b.jpg", taken=TAKEN)
    again = photos_added(farm, [inside / "a.jpg", new, new], tmp_path / "farm")
    assert again.edit.name == "Add photograph b.jpg"
    assert again.notes == (
        "a.jpg is among the photographs already",
        "b.jpg is among the photographs already",
    )
    assert done(farm, again).tables["photos"]["path"].tolist()[2:] == ["photos/b.jpg"]
    with pytest.raises(BadInput, match="photo point is not there any more"):
        photos_added(farm, [inside / "a.jpg"], tmp_path, point=5)
    with pytest.raises(BadInput, match="no photographs were chosen"):
        photos_added(farm, [], tmp_path)
    gone = done(farm, photos_removed(farm, [1]))
    assert gone.tables["photos"].index.tolist() == [2]
    assert (inside / "a.jpg").is_file()


def test_the_day_is_the_camera_s_unless_another_is_given(farm, tmp_path):
    dated, plain = write_photo(tmp_path / "a.jpg", taken=TAKEN), write_photo(tmp_path / "b.jpg")
    given = photos_added(farm, [dated], tmp_path, taken_on=dt.date(2020, 1, 2)).edit.changes["photos"].after
    assert given["taken_on"].dt.date.tolist() == [dt.date(2020, 1, 2)]
    unknown = photos_added(farm, [plain], tmp_path)
    assert unknown.notes == ("b.jpg does not say on which day it was taken; fill it in",)
    with pytest.raises(BadInput, match="has not come yet"):
        photos_added(farm, [plain], tmp_path, taken_on=dt.date(2999, 1, 1))


def test_a_day_that_has_not_come_yet_is_the_camera_s_mistake(farm, tmp_path):
    path = write_photo(tmp_path / "a.jpg", taken="2999:03:01 10:00:00")
    proposed = photos_added(farm, [path], tmp_path)
    assert proposed.notes == ("a.jpg was not taken on 1 March 2999, as its camera says; fill in the right day",)
    assert done(farm, proposed).tables["photos"]["taken_on"].isna().all()
    turned = write_photo(
        tmp_path / "b.jpg", taken="2999:03:01 10:00:00", place=lon_lat(EAST, NORTH), direction=(9.0, "M")
    )
    point = photos_added(farm, [turned], tmp_path).edit.changes["photo_points"].after.iloc[0]
    assert 25 < point["bearing_deg"] < 40, "by the needle of today"
    given = photos_added(farm, [path], tmp_path, taken_on=dt.date(2025, 3, 1))
    assert done(farm, given).tables["photos"]["taken_on"].dt.date.tolist() == [dt.date(2025, 3, 1)]


def test_a_file_that_was_moved_is_found_again(with_point, tmp_path):
    names = ("a.jpg", "b.jpg")
    farm = done(
        with_point, photos_added(with_point, [write_photo(tmp_path / name) for name in names], tmp_path, point=1)
    )
    (tmp_path / "kept").mkdir()
    moved = (tmp_path / "a.jpg").rename(tmp_path / "kept" / "ford.jpg")
    after = done(farm, photo_found(farm, 1, moved, tmp_path))
    assert after.tables["photos"]["path"].tolist() == ["kept/ford.jpg", "b.jpg"]
    assert after.tables["photos"]["photo_point"].tolist() == [1, 1]
    (tmp_path / "words.jpg").write_text("words")
    for path, words in (("b.jpg", "already"), ("gone.jpg", "is not in"), ("words.jpg", "cannot be read")):
        with pytest.raises(BadInput, match=words):
            photo_found(farm, 1, tmp_path / path, tmp_path)


def test_a_true_bearing_becomes_a_grid_bearing(farm, tmp_path):
    """True bearing = grid bearing + convergence, where grid north lies that much east of true north."""
    path = write_photo(tmp_path / "a.jpg", taken=TAKEN, place=lon_lat(EAST + 70, NORTH + 20), direction=(100.0, "T"))
    proposed = photos_added(farm, [path], tmp_path)
    after = done(farm, proposed)
    (point,) = after.tables["photo_points"].to_dict("records")
    assert (point["x"], point["y"]) == pytest.approx((EAST + 70, NORTH + 20), abs=0.1)
    convergence = farm.grid.convergence_deg(EAST, NORTH)
    assert convergence == pytest.approx(-1.6, abs=0.1)
    assert point["bearing_deg"] == pytest.approx(100.0 - convergence, abs=0.06)
    assert after.tables["photos"]["photo_point"].tolist() == [1]
    assert "photo point P1 was put there" in proposed.notes[0]


def test_a_bearing_by_compass_gets_the_declination_of_its_day(farm, tmp_path):
    lon, lat = lon_lat(EAST, NORTH)
    path = write_photo(tmp_path / "a.jpg", taken=TAKEN, place=(lon, lat), direction=(350.0, "M"))
    point = photos_added(farm, [path], tmp_path).edit.changes["photo_points"].after.iloc[0]
    east = declination(lat, lon, 0.0, dt.date(2025, 4, 1)).degrees
    assert 20 < east < 25
    assert point["bearing_deg"] == pytest.approx((350 + east - farm.grid.convergence_deg(EAST, NORTH)) % 360, abs=0.06)
    old = write_photo(
        tmp_path / "b.jpg", taken="1985:01:01 00:00:00", place=lon_lat(EAST + 90, NORTH), direction=(10.0, "M")
    )
    proposed = photos_added(farm, [old], tmp_path)
    assert math.isnan(proposed.edit.changes["photo_points"].after["bearing_deg"].iloc[0])
    assert "by compass and was left out" in proposed.notes[0]


def test_a_second_photograph_from_the_same_place_joins_its_point(farm, tmp_path):
    first = write_photo(tmp_path / "a.jpg", taken=TAKEN, place=lon_lat(EAST, NORTH), direction=(100.0, "T"))
    near = write_photo(tmp_path / "b.jpg", taken=TAKEN, place=lon_lat(EAST + 8, NORTH), direction=(120.0, "T"))
    turned = write_photo(tmp_path / "c.jpg", taken=TAKEN, place=lon_lat(EAST + 1, NORTH), direction=(280.0, "T"))
    proposed = photos_added(farm, [first, near, turned], tmp_path)
    after = done(farm, proposed)
    assert after.tables["photos"]["photo_point"].tolist() == [1, 1, 2]
    assert after.tables["photo_points"]["name"].tolist() == ["P1", "P2"]
    assert any("b.jpg was taken 8 m from photo point P1" in note for note in proposed.notes)


def test_one_from_elsewhere_or_on_a_local_grid_gets_no_point(farm, tmp_path):
    path = write_photo(tmp_path / "a.jpg", taken=TAKEN, place=(10.0, 50.0))
    proposed = photos_added(farm, [path], tmp_path)
    assert set(proposed.edit.changes) == {"photos"}
    assert "was not taken on this farm" in proposed.notes[0]
    empty = photos_added(new_farm("Empty", 2193), [path], tmp_path)
    assert "photos" in empty.edit.changes


def test_taking_a_point_away_leaves_its_photographs(with_point, tmp_path):
    farm = done(with_point, photos_added(with_point, [write_photo(tmp_path / "a.jpg")], tmp_path, point=1))
    proposed = rows_removed(farm, "photo_points", [1])
    assert proposed.notes == ("1 photograph stays, without a photo point",)
    after = done(farm, proposed)
    assert after.tables["photos"]["photo_point"].tolist() == [0]
    assert not len(after.tables["photo_points"])


def test_values_of_a_photograph(with_point, tmp_path):
    farm = done(with_point, photos_added(with_point, [write_photo(tmp_path / "a.jpg")], tmp_path))
    put = done(farm, photo_changed(farm, 1, {"photo_point": 1, "taken_on": "2020-05-01", "caption": "Ford"}))
    row = put.tables["photos"].iloc[0]
    assert (row["photo_point"], str(row["taken_on"])[:10], row["caption"]) == (1, "2020-05-01", "Ford")
    let_go = done(put, photo_changed(put, 1, {"photo_point": None, "taken_on": ""}))
    assert let_go.tables["photos"]["photo_point"].tolist() == [0]
    assert np.isnat(let_go.tables["photos"]["taken_on"].to_numpy()[0])
    for values, words in (
        ({"photo_point": 8}, "not there any more"),
        ({"caption": "Ford"}, "nothing changes"),
        ({"path": ""}, "is empty"),
        ({"taken_on": "2999-01-01"}, "has not come yet"),
    ):
        with pytest.raises(BadInput, match=words):
            photo_changed(put, 1, values)
