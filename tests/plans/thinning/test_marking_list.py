"""The marking list: all marked trees once, in an order that can be walked, as CSV and GPX."""

from __future__ import annotations

import csv
import datetime as dt

import numpy as np
import pytest
from defusedxml import ElementTree
from hypothesis import given
from hypothesis import strategies as st

from farmmap.editing.ground import bearing_deg, length_m
from farmmap.errors import BadInput
from farmmap.farm.grids import LON_LAT, transform
from farmmap.plans.thinning.marking_list import MARKING_COLUMNS, marking_list, write_marking
from farmmap.plans.thinning.rule import CropRule, ThinningRule
from farmmap.plans.thinning.thinning import thinning
from farmmap.plans.walk import walk_order
from tests.plans.thinning.stands import planted, stand_farm

DAY = dt.date(2021, 1, 1)
GPX = "{http://www.topografix.com/GPX/1/1}"


@pytest.fixture(scope="module")
def farm():
    return stand_farm(*planted(10, 15), note=['<"&'] * 150)


@pytest.fixture(scope="module")
def made(farm):
    return thinning(farm, 1, ThinningRule("release-contact"), DAY, CropRule(target_cm=40))


def test_all_marked_trees_once_in_walking_order(farm, made) -> None:
    listed = marking_list(farm, made)
    assert sorted(listed.ids.tolist()) == sorted([*made.take_ids.tolist(), *made.crop_ids.tolist()])
    assert (farm.trees["tag"].loc[listed.ids].to_numpy() == listed.tag).all()
    for place in (0, len(listed) // 2):
        ends = [(listed.x[at], listed.y[at]) for at in (place, place + 1)]
        assert listed.to_next_m[place] == pytest.approx(length_m(farm, ends), abs=1e-6)
        assert listed.to_next_deg[place] == pytest.approx(bearing_deg(farm, *ends), abs=1e-6)
    assert np.isnan(listed.to_next_m[-1])
    assert listed.walk_m < 1.6 * len(listed) * np.sqrt(10_000 * 0.4 * 0.36 / len(listed))


@given(st.integers(0, 1000), st.integers(0, 60))
def test_any_walk_goes_to_each_tree_once(seed, count) -> None:
    x, y = np.round(np.random.default_rng(seed).random((2, count)) * 50, seed % 3)
    order = walk_order(x, y)
    assert sorted(order.tolist()) == list(range(count))


def test_a_walk_is_short() -> None:
    draw = np.random.default_rng(2)
    x, y = draw.random((2, 400)) * 200
    order = walk_order(x, y)
    length = np.hypot(np.diff(x[order]), np.diff(y[order])).sum()
    assert length < 1.3 * np.sqrt(400 * 200 * 200)  # the shortest is about 0.71 of that root: Beardwood and others 1959


def test_a_walk_does_not_hang_on_where_the_grid_begins() -> None:
    x, y = np.random.default_rng(2).random((2, 400)) * 200
    far = walk_order(x + 1_811_500, y + 5_478_200)
    assert far.tolist() == walk_order(x, y).tolist()


def test_csv(farm, made, tmp_path) -> None:
    path = tmp_path / "list.csv"
    count = write_marking(farm, made, path)
    text = path.read_text(encoding="utf-8-sig")
    rows = list(csv.DictReader(text.splitlines()))
    assert len(rows) == count
    assert tuple(rows[0]) == MARKING_COLUMNS
    assert {row["mark"] for row in rows} == {"crop", "take"}
    first = marking_list(farm, made)
    assert float(rows[0]["x"]) == pytest.approx(first.x[0], abs=0.006)
    lon, lat = transform(first.x[:1], first.y[:1], farm.grid.epsg, LON_LAT)
    assert float(rows[0]["lat"]) == pytest.approx(lat[0], abs=1e-8)
    assert float(rows[0]["lon"]) == pytest.approx(lon[0], abs=1e-8)
    assert rows[0]["name"] == "tōtara"
    assert rows[-1]["to_next_m"] == ""


def test_gpx(farm, made, tmp_path) -> None:
    path = tmp_path / "list.gpx"
    count = write_marking(farm, made, path)
    points = ElementTree.parse(path).getroot().findall(f"{GPX}wpt")
    assert len(points) == count
    assert {point.find(f"{GPX}type").text for point in points} == {"crop", "take"}
    assert points[0].find(f"{GPX}name").text.startswith("1 T")
    assert "next: " in points[0].find(f"{GPX}desc").text


def test_tags_that_are_no_xml_are_written(tmp_path) -> None:
    farm = stand_farm([10, 20], [10, 20], [30, 30], mark=["take", "crop"])
    trees = farm.trees.copy()
    trees["tag"] = ["<&\x07>", ""]
    farm = farm.with_tables(trees=trees)
    from farmmap.plans.thinning.thinning import thinning_as_marked

    path = tmp_path / "list.gpx"
    write_marking(farm, thinning_as_marked(farm, 1, DAY), path)
    names = [point.find(f"{GPX}name").text for point in ElementTree.parse(path).getroot().findall(f"{GPX}wpt")]
    assert sorted(name.split(" ", 1)[1] for name in names) == ["<&> Take", "Crop"]


def test_a_local_farm_has_a_csv_and_no_gpx(tmp_path) -> None:
    farm = stand_farm([10, 20], [10, 20], [30, 30], mark=["take", "crop"])
    from shapely.affinity import translate

    from tests.place import EAST, NORTH

    trees = farm.trees.assign(x=farm.trees["x"] - EAST, y=farm.trees["y"] - NORTH)
    blocks = farm.blocks.copy()
    blocks["geometry"] = [translate(shape, -EAST, -NORTH) for shape in blocks.geometry]
    local = farm.with_tables(trees=trees, blocks=blocks.set_crs(farm.grid.crs, allow_override=True))
    assert local.grid.local
    from farmmap.plans.thinning.thinning import thinning_as_marked

    made = thinning_as_marked(local, 1, DAY)
    assert write_marking(local, made, tmp_path / "list.csv") == 2
    with pytest.raises(BadInput, match="corner post"):
        write_marking(local, made, tmp_path / "list.gpx")


def test_what_cannot_be_written(farm, made, tmp_path) -> None:
    with pytest.raises(BadInput, match=r"end its name in \.gpx or \.csv"):
        write_marking(farm, made, tmp_path / "list.doc")
    with pytest.raises(BadInput, match="no tree of Stand is marked"):
        write_marking(farm, thinning(farm, 1, ThinningRule("none"), DAY), tmp_path / "list.csv")
    with pytest.raises(BadInput, match="cannot be written"):
        write_marking(farm, made, tmp_path / "missing" / "list.csv")
    (tmp_path / "folder.csv").mkdir()
    with pytest.raises(BadInput, match="is a folder"):
        write_marking(farm, made, tmp_path / "folder.csv")
