"""Places of sample plots: in their blocks, named once, with a size or a word about it, and not measured yet."""

import datetime as dt
import json

import numpy as np
import pandas as pd
import pytest
import shapely
from click.testing import CliRunner

from farmmap.commands import main
from farmmap.farm.farm import shaped
from farmmap.farm.grids import transform
from farmmap.farm.schema import TABLES
from farmmap.figures.sampling.sampled import block_of_each_plot
from farmmap.files.farm_file import read_farm, write_farm
from farmmap.plans.sampling.counting import counts_from_file
from farmmap.plans.sampling.handing_on import SIZE_COLUMNS, write_plots
from tests.files.conftest import EAST, NORTH


@pytest.fixture
def two_blocks(empty):
    boxes = [shapely.box(EAST, NORTH, EAST + 100, NORTH + 100), shapely.box(EAST + 100, NORTH, EAST + 200, NORTH + 100)]
    blocks = shaped(
        TABLES["blocks"], {"name": ["Pōhutukawa Flat", "Top"], "geometry": boxes}, np.array([1, 2]), empty.grid
    )
    return empty.with_tables(blocks=blocks)


def csv_of(*rows, head="plot,block,x,y,radius"):
    return "\n".join([head, *(",".join(map(str, row)) for row in rows)]) + "\n"


def test_plots_come_in_with_block_and_size(brought, two_blocks):
    text = csv_of((1, "", EAST + 10, NORTH + 10, 7.98), (2, "pohutukawa flat", EAST + 30, NORTH + 10, 7.98),
                  (1, "Top", EAST + 150, NORTH + 50, ""), (9, "", EAST + 50, NORTH + 150, 5))  # fmt: skip
    found, farm = brought(text, "plots", two_blocks)
    assert found.came_in == 4
    assert farm.plots["block"].tolist() == ["Pōhutukawa Flat", "Pōhutukawa Flat", "Top", ""]
    assert block_of_each_plot(farm).tolist() == [1, 1, 2, -1]
    assert farm.plots["radius_m"].iloc[0] == 7.98
    assert set(farm.plots["design"]) == {"by hand"}
    assert farm.plots["measured_on"].isna().all()
    said = " ".join(found.said)
    assert "4 sample plots came in, none of them measured yet." in said
    assert "1 plot lies in no block" in said
    assert "1 plot has no size" in said
    assert "outside" not in said
    found, _ = brought(csv_of((5, "Top", EAST + 10, NORTH + 10, 8)), "plots", two_blocks)
    assert any("The plot lies outside the block that is named (row 2)" in words for words in found.said)
    assert "1 sample plot came in, not measured yet." in found.said


def test_what_cannot_be_is_set_aside_with_its_reason(brought, two_blocks):
    rows = [
        (1, "", EAST + 10, NORTH + 10, 8),
        (1, "", EAST + 20, NORTH + 10, 8),
        (3, "Nowhere", EAST + 10, NORTH + 10, 8),
        (4, "", "here", NORTH + 10, 8),
        (5, "", EAST + 10, NORTH + 10, 500),
        (6, "", "", "", 8),
    ]
    found, farm = brought(csv_of(*rows), "plots", two_blocks)
    assert found.came_in == len(farm.plots) == 1
    reasons = {bad.row_number: bad.reason for bad in found.bad}
    assert "there is a plot '1' in Pōhutukawa Flat already" in reasons[3]
    assert "no block called 'Nowhere'" in reasons[4]
    assert "is no number" in reasons[5]
    assert "cannot be over 100 m" in reasons[6]
    assert "has no x and y" in reasons[7]
    again, _ = brought(csv_of(rows[0]), "plots", farm)
    assert again.edit is None
    assert "already; give it another name" in again.bad[0].reason


def test_shapes_are_told_by_their_sizes(brought, two_blocks):
    text = csv_of((1, EAST + 10, NORTH + 10, "", "", 2), (2, EAST + 20, NORTH + 10, 20, 4, ""),
                  head="name,x,y,length_m,width_m,baf")  # fmt: skip
    found, farm = brought(text, "plots", two_blocks)
    assert farm.plots["shape"].tolist() == ["angle count", "strip"]
    assert not any("no size" in said for said in found.said)
    rows = [(1, EAST + 10, NORTH + 10, "", 2), (2, EAST + 20, NORTH + 10, "circle", 2), (3, EAST, NORTH, "", "")]
    _, farm = brought(csv_of(*rows, head="name,x,y,shape,baf"), "plots", two_blocks)
    assert farm.plots["shape"].tolist() == ["angle count", "circle", "circle"]
    rows = [(1, EAST + 10, NORTH + 10, "Circle"), (2, EAST + 10, NORTH + 30, "square")]
    found, farm = brought(csv_of(*rows, head="name,x,y,shape"), "plots", two_blocks)
    assert farm.plots["shape"].tolist() == ["circle"]
    assert "write one of circle, strip, angle count" in found.bad[0].reason


def test_points_of_a_gps_are_no_measured_plots(brought, two_blocks):
    lon, lat = transform(np.array([EAST + 10.0, EAST + 110.0]), np.array([NORTH + 10.0, NORTH + 20.0]), 2193, 4326)
    points = "".join(
        f'<wpt lat="{b:.9f}" lon="{a:.9f}"><time>2026-01-02T03:04:05Z</time><name>P{n}</name></wpt>'
        for n, (a, b) in enumerate(zip(lon, lat, strict=True), start=1)
    )
    text = f'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">{points}</gpx>'
    _, farm = brought(text, "plots", two_blocks, name="plots.gpx")
    assert farm.plots["name"].tolist() == ["P1", "P2"]
    assert farm.plots["block"].tolist() == ["Pōhutukawa Flat", "Top"]
    assert farm.plots["measured_on"].isna().all()
    assert farm.plots["x"].to_numpy() == pytest.approx([EAST + 10, EAST + 110], abs=0.01)


def test_geojson_points_come_in_and_areas_do_not(brought, two_blocks):
    lon, lat = transform(np.array([EAST + 10.0]), np.array([NORTH + 10.0]), 2193, 4326)
    at = [float(lon[0]), float(lat[0])]
    ring = [at, [at[0] + 1e-4, at[1]], [at[0], at[1] + 1e-4], at]
    features = [
        {
            "type": "Feature",
            "properties": {"name": "7", "radius_m": 5},
            "geometry": {"type": "Point", "coordinates": at},
        },
        {"type": "Feature", "properties": {"name": "8"}, "geometry": {"type": "Polygon", "coordinates": [ring]}},
    ]
    text = json.dumps({"type": "FeatureCollection", "features": features})
    found, farm = brought(text, "plots", two_blocks, name="plots.geojson")
    assert farm.plots["name"].tolist() == ["7"]
    assert "is no point" in found.bad[0].reason


def test_plots_without_a_name_are_given_one(brought, two_blocks):
    found, farm = brought(csv_of((EAST + 10, NORTH + 10), (EAST + 20, NORTH + 10), head="x,y"), "plots", two_blocks)
    assert farm.plots["name"].tolist() == ["Sample plot 1", "Sample plot 2"]
    assert any("carry no name" in said for said in found.said)


def test_what_was_handed_on_comes_in_again_and_takes_its_counts(brought, two_blocks, tmp_path):
    rows = [(1, "", EAST + 10, NORTH + 10, 8, "", "", "", ""), (2, "", EAST + 60, NORTH + 40, "", 40, 5.5, 22.5, ""),
            (3, "", EAST + 30, NORTH + 70, "", "", "", "", 4)]  # fmt: skip
    head = "plot,block,x,y,radius_m,length_m,width_m,bearing_deg,baf_m2"
    _, farm = brought(csv_of(*rows, head=head), "plots", two_blocks)
    assert farm.plots["shape"].tolist() == ["circle", "strip", "angle count"]
    write_plots(farm, [1], tmp_path / "handed.csv")
    found, again = brought((tmp_path / "handed.csv").read_text("utf-8-sig"), "plots", two_blocks)
    assert not any("no size" in said for said in found.said)
    place = ["name", "block", "x", "y", *SIZE_COLUMNS]
    pd.testing.assert_frame_equal(
        again.plots[place].sort_values("name", ignore_index=True),
        farm.plots[place].sort_values("name", ignore_index=True),
        atol=0.011,
    )
    (tmp_path / "counts.csv").write_text("plot,species,dbh_cm\n1,PRAD,30\n2,none,\n3,none,\n")
    counted = counts_from_file(farm, tmp_path / "counts.csv", dt.date(2026, 5, 1)).edit.apply(farm)
    assert counted.plot_trees["plot"].tolist() == [1]
    assert counted.plots["measured_on"].notna().all()


def test_the_command_brings_plots_in(two_blocks, tmp_path):
    path = tmp_path / "farm.gpkg"
    write_farm(two_blocks, path)
    (tmp_path / "plots.csv").write_text(csv_of((1, "", EAST + 10, NORTH + 10, 8), (2, "No", EAST, NORTH, 8)))
    done = CliRunner().invoke(main, ["bring", str(tmp_path / "plots.csv"), "--into", str(path), "--as", "plots"])
    assert done.exit_code == 0, done.output
    assert "2 rows read, 1 came in, 1 set aside" in done.output
    assert read_farm(path).plots["name"].tolist() == ["1"]
