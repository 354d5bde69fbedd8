"""What people's tables hold beyond the plain case: stems alike, strays, two columns of one thing, titles, units."""

from __future__ import annotations

import math

import pytest
import shapely

from farmmap.errors import BadInput
from farmmap.files.bring import read_source

E, N = 1812000, 5478000
HEAD = "tag,species,x,y,dbh_cm,measured_on\n"


def alike(count, dbh=12, tag=7):
    return f"{tag},PRAD,{E},{N},{dbh},2020-05-01\n" * count


def reasons(found):
    return {bad.row_number: bad.reason for bad in found.bad}


def said_of(found, words):
    return [said for said in found.said if words in said]


def test_rows_alike_in_one_file_are_stems_of_one_tree(brought):
    found, farm = brought(HEAD + alike(3), "trees")
    assert (found.came_in, found.bad) == (3, [])
    assert farm.trees["stems"].tolist() == [3]
    assert farm.measurements["stem"].tolist() == [1, 2, 3]
    assert said_of(found, "a row before") == [
        "2 rows repeat the tag, place, day and diameter of a row before; each was taken for a further stem of that tree."
    ]
    assert not said_of(found, "further diameter")


def test_what_the_farm_has_is_set_aside_one_for_one(brought):
    _, farm = brought(HEAD + alike(2), "trees")
    again, same = brought(HEAD + alike(2), "trees", farm)
    assert (again.came_in, len(again.bad), same) == (0, 2, farm)
    more, after = brought(HEAD + alike(3), "trees", farm)
    assert (more.came_in, [bad.row_number for bad in more.bad]) == (1, [2, 3])
    assert after.measurements["stem"].tolist() == [1, 2, 3]
    assert after.trees["stems"].tolist() == [3]
    assert said_of(more, "1 row repeats the tag, place, day and diameter of a row before; it was taken")


def test_a_file_with_stem_numbers_or_counts_is_not_doubled(brought):
    numbered = "tag,x,y,dbh_cm,measured_on,stem\n" + "".join(f"1,{E},{N},12,2020-05-01,{s}\n" for s in (1, 2, 2))
    found, farm = brought(numbered, "trees")
    assert farm.measurements["stem"].tolist() == [1, 2]
    assert "row before" in reasons(found)[4]
    assert brought(numbered, "trees", farm)[0].came_in == 0
    counted = f"tag,x,y,dbh_cm,measured_on,stems\n1,{E},{N},12,2020-05-01,3\n"
    _, farm = brought(counted, "trees")
    assert brought(counted, "trees", farm)[0].came_in == 0
    told = "tag,x,y,dbh_cm,measured_on,stems\n" + f"1,{E},{N},12,2020-05-01,3\n" * 3
    found, farm = brought(told, "trees")
    assert (farm.trees["stems"].tolist(), farm.measurements["stem"].tolist()) == ([3], [1, 2, 3])
    assert not said_of(found, "a row before")


def test_measurements_alike_are_stems_too(brought):
    _, farm = brought(f"tag,x,y\n7,{E},{N}\n", "trees")
    found, after = brought("tag,dbh_cm,measured_on\n" + "7,12,2020-05-01\n" * 2, "measurements", farm)
    assert after.measurements["stem"].tolist() == [1, 2]
    assert said_of(found, "1 row repeats the tag, day and diameter of a row before")


def trees(*places, head="x,y"):
    return f"tag,{head}\n" + "".join(f"{i},{x},{y}\n" for i, (x, y) in enumerate(places, start=1))


NEAR = [(E, N), (E + 20, N + 5), (E + 40, N + 9)]


@pytest.mark.parametrize(
    ("stray", "words"),
    [
        ((N, E), "its x and y, or longitude and latitude, seem to be swapped"),
        ((E, N * 10), "its y seems to have a figure"),
        ((E + 90_000, N), "lies 90 km from the other rows; look whether"),
        ((0, 0), "0, 0 seems to stand for no place"),
    ],
)
def test_a_row_far_from_the_others_is_set_aside_with_its_likely_cause(brought, stray, words):
    found, farm = brought(trees(*NEAR, stray), "trees")
    assert len(farm.trees) == 3
    assert list(reasons(found)) == [5]
    assert words in reasons(found)[5]


def test_a_far_row_comes_in_if_told(brought):
    assert len(brought(trees(*NEAR, (E + 90_000, N)), "trees", anyway=True)[1].trees) == 4


def test_one_of_two_rows_is_judged_by_the_farm_or_its_grid(brought):
    for farm in (None, brought(trees(*NEAR), "trees")[1]):
        found, _ = brought("tag,x,y\n" + f"8,{E + 5},{N}\n9,{N},{E}\n", "trees", farm)
        assert found.came_in == 1
        assert "swapped" in reasons(found)[3]


def test_a_row_far_from_the_farm_is_set_aside_though_it_lies_in_degrees(brought):
    _, farm = brought(trees(*NEAR), "trees")
    found, _ = brought(
        trees((175.514, -40.822), (175.5141, -40.8221), (-40.822, 175.514), head="lon,lat").replace("\n1,", "\n91,"),
        "trees",
        farm,
    )
    assert "swapped" in reasons(found)[4]


def test_a_shape_far_from_the_others_is_set_aside(brought):
    boxes = [shapely.box(E + 20 * i, N, E + 20 * i + 10, N + 10) for i in range(3)]
    boxes.append(shapely.transform(boxes[0], lambda xy: xy[:, ::-1]))
    found, farm = brought("wkt\n" + "".join(f'"{shape.wkt}"\n' for shape in boxes), "blocks")
    assert len(farm.blocks) == 3
    assert "swapped" in reasons(found)[5]


def test_a_girth_stands_in_where_the_diameter_is_blank(brought):
    text = "x,y,dbh_cm,girth_cm\n" + "".join(
        f"{E + i},{N},{d},{g}\n" for i, (d, g) in enumerate([(30, ""), ("", 100), (20, 90), (31.9, 100), ("", "thick"), (9, "thick")])
    )  # fmt: skip
    found, farm = brought(text, "trees")
    assert farm.measurements["dbh_cm"].tolist() == pytest.approx([30, 100 / math.pi, 20, 31.9, 9])
    assert said_of(found, "1 row has no diameter but a girth in 'girth_cm', which was divided by pi.")
    assert said_of(found, "1 row has a diameter and a girth that differ by more than 5%; the diameter was taken.")
    assert reasons(found) == {6: "'thick' in 'girth_cm' is no number"}
    shown = found.plan.as_text()
    assert "dbh_cm  <-  dbh_cm" in shown
    assert "dbh_cm  <-  girth_cm  (girth in cm, divided by pi; where dbh_cm is blank)" in shown
    assert "unused" not in shown
    assert found.plan.with_column("dbh_cm", "").girth is None
    only = found.plan.with_column("girth_cm", "girth_cm")
    assert (only.girth, only.fillings["dbh_cm"].theirs) == (None, "girth_cm")


def test_a_last_column_without_a_name_comes_in_if_it_holds_something(brought, put):
    found, farm = brought(f"tag,x,y,dbh_cm,\n8,{E},{N},10,leans\n", "trees")
    assert len(farm.trees) == 1
    assert found.plan.unused == ("column 5",)
    assert read_source(put("b.csv", "tag,x,\n1,2,\n3,4\n")).rows.columns.tolist() == ["tag", "x"]


def test_a_title_above_the_heading_is_skipped_and_said(brought):
    for title in ("Stem map of the creek block", "Stem map, May,,", "Stem map\n"):
        found, farm = brought(f"{title}\ntag,x,y,dbh_cm\n8,{E},{N},10\n9,{E},,10\n", "trees")
        assert farm.trees["tag"].tolist() == ["8"]
        assert list(reasons(found)) == [4 + title.count("\n")]
        assert said_of(found, "title above the heading")


def test_a_file_without_a_heading_is_told_to_have_one(brought):
    with pytest.raises(BadInput, match="the first line of the file must be the heading"):
        brought(f"oak,{E},{N},10\nash,{E},{N},12\n", "trees")


def test_numbers_with_their_unit_are_read(brought):
    text = "tag;x;y;dbh_cm;height_m\n" + "".join(
        f"{i};{E + i};{N};{d};{h}\n" for i, (d, h) in enumerate([("12 cm", "4,5 m"), ("30cm", "450 CM"), ("305 mm", "10 ft"), ("12 stone", 5)])
    )  # fmt: skip
    found, farm = brought(text, "trees")
    assert farm.measurements["dbh_cm"].tolist() == pytest.approx([12, 30, 30.5])
    assert farm.measurements["height_m"].tolist() == pytest.approx([4.5, 4.5, 3.048])
    assert said_of(found, "1 cell of 'dbh_cm' in another unit: turned into cm.")
    assert said_of(found, "2 cells of 'height_m' in another unit")
    assert reasons(found) == {5: "'12 stone' in 'dbh_cm' is no number"}
    _, farm = brought(f"x,y,dbh (mm)\n{E},{N},30 cm\n", "trees")
    assert farm.measurements["dbh_cm"].tolist() == pytest.approx([30])
    found, _ = brought(f"x,y,stems\n{E},{N},1\n{E + 1},{N},2\n{E + 2},{N},3 cm\n", "trees")
    assert "no number" in reasons(found)[4]


def test_readings_after_today_name_their_rows(brought):
    text = "x,y,dbh_cm,measured_on\n" + "".join(f"{E + i},{N},9,{2019 + i}-05-01\n" for i in range(10))
    found, farm = brought(text, "trees")
    assert len(farm.trees) == 10
    assert said_of(found, "2 readings are of a day after today (rows 10 and 11).")
    found, _ = brought("x,y,dbh_cm,measured_on\n" + "".join(f"{E + i},{N},9,2030-05-01\n" for i in range(8)), "trees")
    assert said_of(found, "8 readings are of a day after today (rows 2, 3, 4, 5, 6 and 3 more).")


def test_one_is_said_as_one(brought):
    found, farm = brought(f"tag,x,y,dbh_cm,height_m,status\n1,{E},{N},9,1.1,\n", "trees")
    assert said_of(found, "1 tree and 1 measurement of 1 tree came in.")
    assert said_of(found, "1 reading carries no day")
    assert said_of(found, "1 row has a diameter but is lower than breast height")
    found, _ = brought(f"tag,x,y,status\n1,{E},{N},dead\n", "trees", farm)
    assert said_of(found, "0 trees came in; 1 tree that was there fares otherwise now.")
    found, _ = brought(f'wkt\n"{shapely.box(E, N, E + 9, N + 9).wkt}"\n', "blocks")
    assert said_of(found, "1 block carries no name and was called Block 1.")


def test_a_gps_file_names_no_columns_of_our_own(brought):
    found, _ = brought('<gpx version="1.1"><wpt lat="-40.82" lon="175.51"><name>7</name></wpt></gpx>', "trees")
    assert "drawn as" not in found.plan.as_text()


def creek(name, *corners):
    return f'{name},"{shapely.LineString([(E + x, N + y) for x, y in corners]).wkt}"\n'


def test_stretches_of_a_creek_drawn_against_each_other_are_said(brought):
    against = "name,wkt\n" + creek("Sedge Creek", (0, 0), (50, 0)) + creek("Sedge Creek", (100, 0), (50, 0.2))
    found, farm = brought(against, "creeks")
    assert said_of(found, "Two stretches of Sedge Creek (rows 2 and 3) were drawn against each other")
    found, _ = brought("name,wkt\n" + creek("Sedge Creek", (100, 0), (150, 0)), "creeks", farm)
    assert said_of(found, "(row 2 and a stretch that was there)")
    found, _ = brought("name,wkt\n" + creek("Sedge Creek", (500, 0), (550, 0)), "creeks", farm)
    assert not said_of(found, "against")
    fork = against + creek("Rush Creek", (50, 0), (50, -40))
    assert not said_of(brought(fork, "creeks")[0], "against each other")


def test_a_creek_that_comes_as_an_area_is_said_to_have_no_left_and_right(brought):
    area = f'Sedge Creek,"{shapely.box(E, N, E + 300, N + 4).wkt}"\n'
    found, _ = brought("name,wkt\n" + area + creek("Rush Creek", (0, 50), (50, 60)), "creeks")
    assert said_of(found, "Row 2 came as an area, and its edge became the creek's line")
    found, _ = brought("name,wkt\n" + creek("Rush Creek", (0, 50), (50, 60)), "creeks")
    assert not said_of(found, "area")


def test_scientific_names_with_an_author_are_found(brought):
    names = ["Pinus_radiata_D.Don", "Quercus robur L."]
    found, farm = brought("species,x,y\n" + "".join(f"{n},{E + i},{N}\n" for i, n in enumerate(names)), "trees")
    assert farm.trees["species"].tolist() == ["PRAD", "QROB"]
    assert said_of(found, "found by name: Pinus_radiata_D.Don as PRAD, Quercus robur L. as QROB")


def test_many_rows_are_still_no_strays(brought):
    places = range(E, E + 40_000, 20)
    found, _ = brought("x,y\n" + "".join(f"{a},{N}\n" for a in places), "trees")
    assert found.came_in == 2000
