"""Whatever is written in any of the formats comes in as it was; whatever is broken is refused in words."""

import csv
import io
import json
import string
import tempfile
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from farmmap.errors import FarmmapError
from farmmap.farm.farm import new_farm
from farmmap.farm.grids import transform
from farmmap.files.bring import bring

FARM = new_farm("Pipit Downs", "EPSG:2193")
E, N = 1812000.0, 5478000.0
QUIET = settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])

WORDS = st.text(st.sampled_from(string.ascii_letters + "0123456789 āéü'\"&<>;,-"), min_size=1, max_size=12).map(
    lambda text: "T" + " ".join(text.split())
)
PLACES = st.tuples(st.integers(0, 400_000), st.integers(0, 400_000)).map(lambda p: (E + p[0] / 100, N + p[1] / 100))
TREES = st.lists(
    st.tuples(WORDS, PLACES, st.one_of(st.none(), st.integers(1, 20_000).map(lambda d: d / 100))),
    min_size=1,
    max_size=12,
    unique_by=lambda row: row[0],
)


def brought(name, content, table, **options):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        found = bring(FARM, path, table, **options)
    assert found.read == found.came_in + len(found.bad)
    return found, FARM if found.edit is None else found.edit.apply(FARM)


def outcome(name, content, table):
    """Return what is said: the refusal, or how many rows came in."""
    try:
        found, _ = brought(name, content, table)
    except FarmmapError as error:
        return str(error)
    return f"{found.came_in} rows came in"


def same_trees(farm, trees, *, within_m=0.0):
    tags = [tag for tag, _, _ in trees]
    assert farm.trees["tag"].tolist() == tags
    assert farm.trees[["x", "y"]].to_numpy() == pytest.approx(
        np.array([place for _, place, _ in trees]), abs=within_m, rel=0
    )
    dbh = dict(zip(farm.measurements["tree"], farm.measurements["dbh_cm"], strict=True))
    got = [dbh.get(number) for number in farm.trees.index]
    assert got == [None if d is None else pytest.approx(d) for _, _, d in trees]


def as_csv(trees, separator, comma, end="\n", quoting=csv.QUOTE_MINIMAL):
    def number(value):
        return "" if value is None else f"{value:.2f}".replace(".", "," if comma else ".")

    text = io.StringIO()
    writer = csv.writer(text, delimiter=separator, lineterminator=end, quoting=quoting)
    writer.writerow(["Tag", "X", "Y", "DBH (cm)"])
    writer.writerows([tag, number(x), number(y), number(d)] for tag, (x, y), d in trees)
    return text.getvalue()


@QUIET
@given(
    TREES,
    st.sampled_from([",", ";", "\t"]),
    st.booleans(),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le"]),
    st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
)
def test_csv(trees, separator, comma, end, encoding, quoting):
    text = as_csv(trees, separator, comma, end, quoting)
    _, farm = brought("t.csv", text.encode(encoding), "trees")
    same_trees(farm, trees)


@QUIET
@given(TREES.map(lambda trees: [(tag.replace("ā", "a"), place, d) for tag, place, d in trees]))
def test_csv_in_windows_1252(trees):
    trees = list({tag: (tag, place, d) for tag, place, d in trees}.values())
    _, farm = brought("t.csv", as_csv(trees, ";", True).encode("cp1252"), "trees")
    same_trees(farm, trees)


def lon_lat(trees):
    return np.column_stack(transform(*np.array([place for _, place, _ in trees]).T, 2193, 4326)).tolist()


@QUIET
@given(TREES)
def test_geojson(trees):
    features = [
        {"type": "Feature", "properties": {"tag": tag, "dbh_cm": d}, "geometry": {"type": "Point", "coordinates": at}}
        for (tag, _, d), at in zip(trees, lon_lat(trees), strict=True)
    ]
    _, farm = brought("t.geojson", json.dumps({"type": "FeatureCollection", "features": features}).encode(), "trees")
    same_trees(farm, trees, within_m=1e-4)


@QUIET
@given(TREES)
def test_gpx(trees):
    points = "".join(
        f'<wpt lat="{lat!r}" lon="{lon!r}"><name>{escape(tag)}</name></wpt>'
        for (tag, _, _), (lon, lat) in zip(trees, lon_lat(trees), strict=True)
    )
    text = f'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">{points}</gpx>'
    found, farm = brought("t.gpx", text.encode(), "trees")
    assert found.came_in == len(trees)
    same_trees(farm, [(tag, place, None) for tag, place, _ in trees], within_m=1e-4)


@QUIET
@given(TREES)
def test_kml(trees):
    marks = "".join(
        f'<Placemark><ExtendedData><Data name="tag"><value>{escape(tag)}</value></Data><Data name="dbh"><value>{"" if d is None else d}'
        f"</value></Data></ExtendedData><Point><coordinates>{lon!r},{lat!r},0</coordinates></Point></Placemark>"
        for (tag, _, d), (lon, lat) in zip(trees, lon_lat(trees), strict=True)
    )
    text = f'<kml xmlns="http://www.opengis.net/kml/2.2"><Document>{marks}</Document></kml>'
    _, farm = brought("t.kml", text.encode(), "trees", columns={"dbh_cm": "dbh"} if any(d for *_, d in trees) else {})
    same_trees(farm, trees, within_m=1e-4)


SQUARE = [[175.5, -40.8], [175.51, -40.8], [175.51, -40.81], [175.5, -40.81], [175.5, -40.8]]
WHOLE = {
    "t.csv": (
        as_csv([("A1", (E, N), 12.5), ('B "2"', (E + 5, N), 3.0), ("C;3", (E, N + 9), None)], ";", True).encode(),
        "trees",
    ),
    "t.geojson": (
        json.dumps(
            {
                "type": "FeatureCollection",
                "features": [
                    {
                        "type": "Feature",
                        "properties": {"name": "A"},
                        "geometry": {"type": "Polygon", "coordinates": [SQUARE]},
                    },
                    {
                        "type": "Feature",
                        "properties": {"name": "B"},
                        "geometry": {"type": "LineString", "coordinates": SQUARE},
                    },
                ],
            }
        ).encode(),
        "blocks",
    ),
    "t.gpx": (
        (
            '<?xml version="1.0" encoding="UTF-8"?><gpx version="1.1"><trk><name>w</name><trkseg>'
            + "".join(f'<trkpt lat="{lat}" lon="{lon}"><ele>2</ele></trkpt>' for lon, lat in SQUARE)
            + "</trkseg></trk></gpx>"
        ).encode(),
        "boundary",
    ),
    "t.kml": (
        (
            '<?xml version="1.0" encoding="UTF-8"?><kml><Document><Placemark><name>c</name><LineString><coordinates>'
            + " ".join(f"{lon},{lat},0" for lon, lat in SQUARE)
            + "</coordinates></LineString></Placemark></Document></kml>"
        ).encode(),
        "creeks",
    ),
}


@settings(QUIET, max_examples=120)
@given(st.sampled_from(sorted(WHOLE)), st.data())
def test_broken_files_are_refused_in_words_or_come_in_row_by_row(name, data):
    content, table = WHOLE[name]
    broken = bytearray(content)
    for _ in range(data.draw(st.integers(0, 4))):
        broken[data.draw(st.integers(0, len(broken) - 1))] = data.draw(st.integers(0, 255))
    if data.draw(st.booleans()):
        del broken[data.draw(st.integers(0, len(broken) - 1)) :]
    assert len(outcome(name, bytes(broken), table)) > 10


CELLS = st.one_of(
    st.sampled_from(
        [
            "",
            "NA",
            "-",
            "1,5",
            "1.5",
            "-3",
            "1e400",
            "inf",
            "nan",
            "abc",
            "2020-13-01",
            "3/4/2020",
            "0",
            "١٢",
            '"',
            "1 234,5",
        ]
    ),
    st.text(max_size=6),
)


@settings(QUIET, max_examples=120)
@given(
    st.lists(st.sampled_from(["tag", "species", "x", "y", "lon", "lat", "dbh", "girth_in", "height_m", "planted", "date", "status", "stems", "stem", "wkt", "note", "?"]), min_size=1, max_size=8),
    st.lists(st.lists(CELLS, max_size=10), max_size=6),
    st.sampled_from([",", ";", "\t"]),
    st.sampled_from(["trees", "measurements", "blocks", "creeks", "hazards"]),
)  # fmt: skip
def test_any_table_at_all_is_brought_or_refused_in_words(heads, rows, separator, table):
    text = io.StringIO()
    writer = csv.writer(text, delimiter=separator)
    writer.writerow(heads)
    writer.writerows(rows)
    assert len(outcome("t.csv", text.getvalue().encode("utf-8", "surrogatepass"), table)) > 10
