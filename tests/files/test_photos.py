"""What photographs say of themselves, and what a farm's photographs are."""

import contextlib
import datetime as dt
import math
import sqlite3

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from farmmap.errors import BadInput
from farmmap.farm.farm import shaped
from farmmap.farm.schema import TABLES
from farmmap.files import photos
from farmmap.files.checks import check_farm
from farmmap.files.farm_file import read_farm, write_farm
from farmmap.files.photos import look_at_photo, photos_of
from farmmap.files.raster_backdrops import with_paths_from
from tests import photo_files
from tests.conftest import days
from tests.photo_files import write_photo


def with_photos(farm, **columns):
    ids = np.arange(1, 1 + len(columns["path"]))
    return farm.with_tables(photos=shaped(TABLES["photos"], columns, ids, farm.grid))


def test_day_place_and_direction(tmp_path):
    path = write_photo(
        tmp_path / "a.jpg", taken="2024:03:09 10:20:30", place=(175.25, -40.5), direction=(123.4, "T"), orientation=1
    )
    found = look_at_photo(path, whole=True)
    assert found.taken_on == dt.date(2024, 3, 9)
    assert found.place == pytest.approx((175.25, -40.5))
    assert (found.direction_deg, found.by_needle) == (123.4, False)
    assert (found.width, found.height) == (80, 60)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_width_and_height_are_those_of_the_picture_the_right_way_up(tmp_path, orientation):
    found = look_at_photo(write_photo(tmp_path / "a.jpg", orientation=orientation))
    assert (found.width, found.height) == ((80, 60) if orientation < 5 else (60, 80))


@settings(max_examples=20)
@given(
    lon=st.floats(-179.9, 179.9),
    lat=st.floats(-89.9, 89.9),
    turn=st.floats(0, 359.9),
    north=st.sampled_from(["T", "M"]),
)
def test_any_place_comes_back(tmp_path_factory, lon, lat, turn, north):
    path = write_photo(tmp_path_factory.mktemp("photo") / "a.jpg", 16, 16, place=(lon, lat), direction=(turn, north))
    found = look_at_photo(path)
    if abs(lon) + abs(lat) > 1e-3:
        assert found.place == pytest.approx((lon, lat), abs=1e-6)
    assert found.direction_deg == pytest.approx(turn, abs=1e-3)
    assert found.by_needle == (north == "M")


def test_a_camera_that_found_no_place_or_day_wrote_nothing(tmp_path):
    none = look_at_photo(write_photo(tmp_path / "a.jpg", place=(0.0, 0.0), taken="0000:00:00 00:00:00"))
    assert none.place is None
    assert none.taken_on is None
    plain = look_at_photo(write_photo(tmp_path / "b.png", driver="PNG"), whole=True)
    assert (plain.width, plain.height, plain.place, plain.taken_on) == (80, 60, None, None)
    assert math.isnan(plain.direction_deg)


def test_a_place_that_is_told_too_coarsely_is_left_out(tmp_path, monkeypatch):
    def decimal(lon, lat):
        return [(2, 5, photo_files._shares(lat)), (4, 5, photo_files._shares(lon))]

    monkeypatch.setattr(photo_files, "_place", decimal)
    assert look_at_photo(write_photo(tmp_path / "a.jpg", place=(175.496531, 40.822613))).place is None


def test_a_png_too_large_to_be_shown_is_refused(tmp_path, monkeypatch):
    """JPEG is made smaller while it is read; PNG is read whole."""
    monkeypatch.setattr(photos, "MOST_PNG_BYTES", 80 * 60 * 4)
    look_at_photo(write_photo(tmp_path / "a.png", driver="PNG"))
    look_at_photo(write_photo(tmp_path / "large.jpg", 81, 60))
    with pytest.raises(BadInput, match=r"large\.png is too large to be shown \(81 × 60 dots\); save it as JPEG"):
        look_at_photo(write_photo(tmp_path / "large.png", 81, 60, driver="PNG"))


def test_what_is_no_photograph_is_refused_in_words(tmp_path):
    whole = write_photo(tmp_path / "whole.jpg", 400, 300).read_bytes()
    (tmp_path / "cut.jpg").write_bytes(whole[: len(whole) // 2])
    (tmp_path / "words.jpg").write_text("no picture")
    write_photo(tmp_path / "other.tif", driver="GTiff")
    (tmp_path / "folder.jpg").mkdir()
    for name, words in (
        ("cut.jpg", "cut.jpg cannot be read as a photograph: it is damaged"),
        ("words.jpg", "words.jpg cannot be read as a photograph"),
        ("other.tif", "other.tif is a picture of another kind .*save it as JPEG or PNG"),
        ("folder.jpg", "is a folder; choose a photograph in it"),
        ("gone.jpg", "gone.jpg is not in .*put it back there"),
    ):
        with pytest.raises(BadInput, match=words):
            look_at_photo(tmp_path / name, whole=True)


def test_photographs_of_a_point_stand_together_oldest_first(farm, tmp_path):
    for name in ("new.jpg", "old.jpg", "own.jpg"):
        write_photo(tmp_path / name)
    points = shaped(TABLES["photo_points"], {"name": ["A"], "x": [1.0], "y": [1.0]}, np.array([7]), farm.grid)
    farm = with_photos(
        farm.with_tables(photo_points=points),
        photo_point=[0, 7, 7, 7],
        path=["own.jpg", "new.jpg", "old.jpg", "gone.jpg"],
        taken_on=days("2010-01-01", "2024-01-01", "2020-01-01", ""),
    )
    found = photos_of(farm, tmp_path)
    assert [photo.path.name for photo in found] == ["old.jpg", "new.jpg", "gone.jpg", "own.jpg"]
    assert [bool(photo.trouble) for photo in found] == [False, False, True, False]
    assert found[2].file is None
    assert found[0].taken_on == dt.date(2020, 1, 1)


def test_a_photograph_of_no_point_has_none_in_the_file(farm, tmp_path):
    write_farm(with_photos(farm, path=["a.jpg", "b.jpg"], photo_point=[0, 3]), tmp_path / "farm.gpkg")
    with contextlib.closing(sqlite3.connect(tmp_path / "farm.gpkg")) as connection:
        assert connection.execute("SELECT photo_point FROM photos ORDER BY id").fetchall() == [(None,), (3,)]
    assert read_farm(tmp_path / "farm.gpkg").tables["photos"]["photo_point"].tolist() == [0, 3]


def test_paths_follow_a_farm_to_another_folder(farm, tmp_path):
    farm = with_photos(farm, path=["photos/a.jpg", "/elsewhere/b.jpg"])
    moved = with_paths_from(farm, tmp_path / "farm", tmp_path / "other").tables["photos"]
    assert moved["path"].tolist() == [str(tmp_path / "farm" / "photos" / "a.jpg"), "/elsewhere/b.jpg"]
    back = with_paths_from(farm.with_tables(photos=moved), tmp_path / "other", tmp_path / "farm").tables["photos"]
    assert back["path"].tolist() == farm.tables["photos"]["path"].tolist()


def test_check_tells_of_what_is_missing(farm, tmp_path):
    write_photo(tmp_path / "there.jpg")
    path = tmp_path / "farm.gpkg"
    write_farm(with_photos(farm, path=["there.jpg", "gone.jpg"], photo_point=[0, 0]), path)
    (finding,) = check_farm(path)
    assert finding.table == "photos"
    assert finding.where == "row 2"
    assert "gone.jpg is not in" in finding.what
    points = {"name": ["A", "A"], "x": farm.trees["x"].to_numpy()[:2], "y": farm.trees["y"].to_numpy()[:2]}
    farm = farm.with_tables(photo_points=shaped(TABLES["photo_points"], points, np.array([1, 2]), farm.grid))
    write_farm(with_photos(farm, path=["there.jpg"], photo_point=[9]), path, replace=True)
    assert [str(found) for found in check_farm(path)] == [
        "photos row 1: photo_point is not among the photo_points",
        "photo_points A: more than one photo point has this name; give each its own",
    ]
    assert read_farm(path).tables["photos"]["photo_point"].tolist() == [9]
