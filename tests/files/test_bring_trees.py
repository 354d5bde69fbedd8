"""Trees and their measurements from rows of a table."""

import datetime as dt
import math

import numpy as np
import pytest

from farmmap.errors import BadInput
from farmmap.files.bring import bring, guess_plan, read_source, write_set_aside

E, N = 1812000, 5478000

HEAD = "tag,species,x,y,dbh_cm,measured_on\n"


def row(tag, east, north, *more):
    return ",".join(str(part) for part in (tag, "PRAD", E + east, N + north, *more)) + "\n"


def reasons(found):
    return {bad.row_number: bad.reason for bad in found.bad}


def test_a_row_makes_a_tree_and_its_measurement(brought):
    text = (
        "Tag;Species;Easting;Northing;DBH (mm);Height (ft);Crown width;Pruned;Planted;Date;Status;Stems;Paint\n"
        f"A1;Radiata pine;{E + 1};{N + 2};305,5;50;4,5;6;2004;1/5/2020;alive;1;red\n"
        f"A2;totara;{E + 3};{N + 4};;;;;15/07/2010;28/5/2020;cut;2;blue\n"
    )
    found, farm = brought(text, "trees")
    assert found.came_in == 2
    assert farm.trees["tag"].tolist() == ["A1", "A2"]
    assert farm.trees["species"].tolist()[0] == "PRAD"
    assert farm.trees["planted"].tolist() == ["2004", "2010-07-15"]
    assert farm.trees["status"].tolist() == ["alive", "felled"]
    assert farm.trees["stems"].tolist() == [1, 2]
    reading = farm.measurements.iloc[0]
    assert len(farm.measurements) == 1
    assert reading["dbh_cm"] == pytest.approx(30.55)
    assert reading["height_m"] == pytest.approx(15.24)
    assert (reading["crown_m"], reading["pruned_m"]) == (4.5, 6.0)
    assert reading["measured_on"] == np.datetime64("2020-05-01")
    assert found.plan.unused == ("Paint",)
    assert "dbh_cm       <-  DBH (mm)  (from mm to cm)" in found.plan.as_text()


@pytest.mark.parametrize(
    ("head", "written", "dbh_cm"),
    [
        ("dbh_cm", "30", 30), ("DBH", "30", 30), ("diameter_in", "10", 25.4), ("girth_cm", "100", 100 / math.pi),
        ("girth_mm", "1000", 100 / math.pi), ("Girth [m]", "1", 100 / math.pi), ("girth_in", "10", 25.4 / math.pi),
        ("Diámeter", "30", 30), ("gbh", "100", 100 / math.pi), ("dbh_m", "0.3", 30),
    ],
)  # fmt: skip
def test_diameters_and_girths_in_any_unit(brought, head, written, dbh_cm):
    _, farm = brought(f"x,y,{head}\n{E},{N},{written}\n", "trees")
    assert farm.measurements["dbh_cm"].tolist() == pytest.approx([dbh_cm])


def test_the_plan_can_be_changed_by_name_and_unit(brought, put):
    text = f"a,b,c,n\n{E},{N},0.5,7\n"
    with pytest.raises(BadInput, match=r"no columns of from.csv hold places"):
        brought(text, "trees")
    _, farm = brought(text, "trees", columns={"x": "A", "y": "b", "girth_m": "c", "tag": "n"})
    assert farm.measurements["dbh_cm"].tolist() == pytest.approx([50 / math.pi])
    plan = guess_plan(read_source(put("p.csv", text)), "trees")
    with pytest.raises(BadInput, match="no column 'zz'; it has a, b, c, n"):
        plan.with_column("x", "zz")
    with pytest.raises(BadInput, match="trees has no column 'weight'"):
        plan.with_column("weight", "a")
    assert "tag" not in plan.with_column("tag", "n").with_column("tag", "").fillings


def test_diameters_that_can_only_be_metres_or_millimetres_are_said(brought):
    metres = "".join(f"{E + i},{N},0.{20 + i}\n" for i in range(10))
    found, farm = brought("x,y,dbh\n" + metres, "trees")
    assert farm.measurements["dbh_cm"].iloc[0] == pytest.approx(20)
    assert any("taken as m." in said and "--column dbh_cm=dbh" in said for said in found.said)
    _, farm = brought("x,y,dbh\n" + metres, "trees", columns={"dbh_cm": "dbh"})
    assert farm.measurements["dbh_cm"].iloc[0] == pytest.approx(0.20)
    millimetres = "".join(f"{E + i},{N},{220 + i}\n" for i in range(10))
    _, farm = brought("x,y,dbh\n" + millimetres, "trees")
    assert farm.measurements["dbh_cm"].iloc[0] == pytest.approx(22)


def test_bad_rows_are_listed_with_number_and_reason(brought):
    text = "tag,x,y,dbh_cm,status,measured_on,stems\n" + "".join(
        f"{tag},{x},{y},{dbh},{status},{day},{stems}\n"
        for tag, x, y, dbh, status, day, stems in [
            (1, E, N, 30, "alive", "2020-05-01", 1),
            (2, E, N, "thick", "alive", "2020-05-01", 1),
            (3, E, N, -4, "alive", "2020-05-01", 1),
            (4, E, N, 5000, "alive", "2020-05-01", 1),
            (5, E, N, 30, "purple", "2020-05-01", 1),
            (6, E, N, 30, "alive", "2020-02-31", 1),
            (7, "", N, 30, "alive", "2020-05-01", 1),
            (8, "east", N, 30, "alive", "2020-05-01", 1),
            (9, E, N, 30, "alive", "2020-05-01", 1.5),
            (10, E, N, 0, "", "", ""),
        ]
    )
    found, farm = brought(text, "trees")
    assert farm.trees["tag"].tolist() == ["1", "10"]
    assert len(farm.measurements) == 1
    got = reasons(found)
    assert list(got) == [3, 4, 5, 6, 7, 8, 9, 10]
    for number, words in {3: "'thick' in 'dbh_cm' is no number", 4: "under 0", 5: "over 1200", 6: "'purple'", 7: "no day",
                          8: "has no x and y", 9: "'east'", 10: "no whole number"}.items():  # fmt: skip
        assert words in got[number]
    assert found.bad[0].raw["dbh_cm"] == "thick"


def test_a_reading_without_a_day_takes_the_one_given_else_today(brought):
    text = f"x,y,dbh_cm\n{E},{N},30\n"
    found, farm = brought(text, "trees", measured_on=dt.date(2019, 4, 3))
    assert farm.measurements["measured_on"].iloc[0] == np.datetime64("2019-04-03")
    assert any("2019-04-03 was taken" in said for said in found.said)
    found, farm = brought(text, "trees")
    assert farm.measurements["measured_on"].iloc[0] == np.datetime64("2026-05-31")
    assert any("--measured-on" in said for said in found.said)


def test_days_written_two_ways(brought):
    head = "x,y,dbh_cm,date\n"
    found, farm = brought(head + f"{E},{N},3,3/4/2020\n{E},{N},3,5/4/2020\n", "trees")
    assert farm.measurements["measured_on"].iloc[0] == np.datetime64("2020-04-03")
    assert any("nothing in the column says which" in said for said in found.said)
    found, farm = brought(head + f"{E},{N},3,3/4/2020\n{E},{N},3,4/25/2020\n", "trees")
    assert farm.measurements["measured_on"].iloc[0] == np.datetime64("2020-03-04")
    assert any("month, day, year" in said for said in found.said)
    _, farm = brought(head + f"{E},{N},3,12 Mar 2020\n{E},{N},3,2020-05-01T10:00:00Z\n{E},{N},3,2019\n", "trees")
    assert farm.measurements["measured_on"].dt.strftime("%Y-%m-%d").tolist() == [
        "2020-03-12",
        "2020-05-01",
        "2019-07-01",
    ]


def test_repeat_readings_stems_and_tags_used_twice(brought):
    text = HEAD + "".join(
        [
            row(1, 0, 0, 10, "2015-05-01"),
            row(1, 0.2, 0, 14, "2020-05-01"),
            row(2, 5, 0, 20, "2020-05-01"),
            row(2, 5, 0, 12, "2020-05-01"),
            row(2, 5, 0, 12, "2020-05-01"),
            row(1, 50, 0, 30, "2020-05-01"),
        ]
    )
    found, farm = brought(text, "trees")
    assert farm.trees["tag"].tolist() == ["1", "2", "1"]
    assert farm.trees["stems"].tolist() == [1, 3, 1]
    assert farm.measurements["tree"].tolist() == [1, 1, 2, 2, 2, 3]
    assert farm.measurements["stem"].tolist() == [1, 1, 1, 2, 3, 1]
    assert reasons(found) == {}
    assert any("1 tag is used for more than one tree (such as 1)" in said for said in found.said)


def test_equal_stems_are_kept_where_the_row_counts_them(brought):
    text = "tag,x,y,dbh_cm,stems\n" + f"7,{E},{N},12,2\n" * 3
    found, farm = brought(text, "trees")
    assert farm.measurements["stem"].tolist() == [1, 2]
    assert len(found.bad) == 1


def test_coincident_trees_without_tags_are_trees_each(brought, empty):
    farm = brought(HEAD + row(41, 9, 9, 5, "2020-01-01"), "trees")[1]
    _, after = brought(f"x,y,species\n{E},{N},totara\n{E},{N},totara\n{E},{N},rimu\n", "trees", farm)
    assert after.trees["tag"].tolist() == ["41", "42", "43", "44"]


def test_one_tag_and_place_but_two_species_are_two_trees(brought):
    _, farm = brought(f"tag,species,x,y\n1,totara,{E},{N}\n1,rimu,{E},{N}\n1,,{E},{N}\n", "trees")
    assert len(farm.trees) == 2


def test_bringing_again_adds_readings_to_the_trees_that_are_there(brought):
    _, farm = brought(HEAD + row(1, 0, 0, 10, "2015-05-01") + row(2, 5, 0, 20, "2015-05-01"), "trees")
    again, same = brought(HEAD + row(1, 0, 0, 10, "2015-05-01") + row(2, 5, 0, 20, "2015-05-01"), "trees", farm)
    assert (again.came_in, again.edit, same) == (0, None, farm)
    assert "already" in again.bad[0].reason
    text = (
        "tag,species,x,y,dbh_cm,measured_on,status\n"
        + row(1, 0, 0, 14, "2020-05-01", "felled")
        + row(3, 9, 0, 1, "2020-05-01", "")
    )
    found, after = brought(text, "trees", farm)
    assert (found.came_in, len(after.trees), len(after.measurements)) == (2, 3, 4)
    assert after.trees["status"].tolist() == ["felled", "alive", "alive"]
    assert after.trees["status_on"].iloc[0] == np.datetime64("2020-05-01")
    back = found.edit.turned_round().apply(after)
    for name in ("trees", "measurements", "species"):
        assert back.tables[name].equals(farm.tables[name])


def test_untagged_trees_are_not_doubled_unless_told(brought):
    text = f"species,x,y\ntotara,{E},{N}\n"
    farm = brought(text, "trees")[1]
    found, _ = brought(text, "trees", farm)
    assert "this very place already" in found.bad[0].reason
    assert len(brought(text, "trees", farm, anyway=True)[1].trees) == 2


def test_a_tree_that_dies_between_two_readings(brought):
    text = "tag,species,x,y,dbh_cm,measured_on,status\n" + "".join(
        [
            row(1, 0, 0, 10, "2015-05-01", "alive"),
            row(1, 0, 0, 10, "2020-05-01", "dead"),
            row(2, 5, 0, 9, "2015-05-01", "dead"),
        ]
    )
    _, farm = brought(text, "trees")
    assert farm.trees["status"].tolist() == ["dead", "dead"]
    assert farm.trees["status_on"].iloc[0] == np.datetime64("2020-05-01")
    assert np.isnat(farm.trees["status_on"].to_numpy()[1])


def test_species_by_code_trade_name_and_scientific_name(brought):
    names = ["PRAD", "radiata pine", "PINUS RADIATA", "blue elderwood", ""]
    found, farm = brought("species,x,y\n" + "".join(f"{name},{E + i},{N}\n" for i, name in enumerate(names)), "trees")
    assert farm.trees["species"].tolist()[:3] == ["PRAD"] * 3
    assert farm.trees["species"].iloc[4] == ""
    assert set(farm.trees["species"]) - {""} == set(farm.species["code"])
    assert any("found by name" in said and "PINUS RADIATA as PRAD" in said for said in found.said)
    assert any("added to the farm's own list: blue elderwood" in said for said in found.said)


def test_measurements_go_by_tag_and_by_place_where_a_tag_is_used_twice(brought):
    farm = brought(HEAD + row(1, 0, 0, "", "") + row(2, 5, 0, "", "") + row(2, 50, 0, "", ""), "trees")[1]
    text = (
        "tag,x,y,dbh,date\n"
        f"1,,,10,2020-05-01\n2,,,11,2020-05-01\n2,{E + 50},{N},12,2020-05-01\n9,,,1,2020-05-01\n,,,4,2020-05-01\n1,,,,2020-05-01\n"
    )
    found, after = brought(text, "measurements", farm)
    assert after.measurements["tree"].tolist() == [1, 3]
    got = reasons(found)
    assert "more than one tree has the tag '2'" in got[3]
    assert "no tree with the tag '9'" in got[5]
    assert "no tag" in got[6]
    assert "no diameter" in got[7]
    with pytest.raises(BadInput, match="--column tag"):
        brought("dbh,date\n1,2020-05-01\n", "measurements", farm)


def test_low_trees_with_a_diameter_and_noughts_are_said(brought):
    found, farm = brought(f"x,y,dbh_cm,height_m\n{E},{N},1,1.1\n{E + 1},{N},0,0.9\n", "trees")
    assert any("lower than breast height" in said for said in found.said)
    assert np.isnan(farm.measurements["dbh_cm"].iloc[1])
    assert farm.measurements["height_m"].iloc[1] == 0.9


def test_bad_rows_are_set_aside_beside_the_source_and_never_over_earlier_ones(brought, put, empty):
    found, _ = brought(f"tag;x;y;dbh_cm\n1;{E};{N};3,5\n2;;{N};4,5\n", "trees", name="walk.csv")
    first, second = write_set_aside(found), write_set_aside(found)
    assert (first.name, second.name) == ("walk-set-aside.csv", "walk-set-aside-2.csv")
    assert first.read_text("utf-8-sig").splitlines() == ["row;reason;tag;x;y;dbh_cm", f"3;has no x and y;2;;{N};4,5"]
    mended = put("mended.csv", first.read_text("utf-8-sig").replace("2;;", f"2;{E};"))
    assert bring(empty, mended, "trees").came_in == 1


def test_nothing_is_written_if_no_row_is_bad_and_a_closed_folder_is_named(brought, monkeypatch):
    found, _ = brought(f"x,y\n{E},{N}\n", "trees")
    assert write_set_aside(found) is None
    found, _ = brought(f"x,y\n{E},\n", "trees")

    def closed(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.open", closed)
    with pytest.raises(BadInput, match=r"from-set-aside.csv: Permission denied"):
        write_set_aside(found)


def test_only_tables_that_can_be_brought(brought):
    with pytest.raises(BadInput, match="choose one of boundary"):
        brought("x,y\n1,2\n", "species")
