"""What the heads of pictures and elevation grids say, and what is said of those that cannot be used."""

import numpy as np
import pyproj
import pytest
from rasterio.control import GroundControlPoint

from farmmap.errors import BadInput
from farmmap.farm.grids import Grid
from farmmap.files.rasters import look_at
from tests.files.raster_files import laid, north_up, raster_file, turned
from tests.place import EAST, NORTH

NZTM = Grid(2193)
PLAIN = np.full((3, 20, 30), 90, np.uint8)


def test_a_geotiff_on_the_farms_grid(tmp_path):
    file = look_at(raster_file(tmp_path / "a.tif", PLAIN, north_up(EAST, NORTH, 2.0)), NZTM)
    assert file.kind == "picture"
    assert file.bounds == (EAST, NORTH - 40, EAST + 60, NORTH)
    assert file.cell_m == pytest.approx(2.0)
    assert file.said == ()


def test_one_band_of_numbers_is_heights_and_their_unit_is_said(tmp_path):
    file = look_at(raster_file(tmp_path / "a.tif", np.ones((1, 9, 9), np.float32), north_up(EAST, NORTH, 5)), NZTM)
    assert file.kind == "elevation"
    assert "in metres" in " ".join(file.said)


@pytest.mark.parametrize(("name", "world"), [("a.png", "a.pgw"), ("a.jpg", "a.jgw"), ("a.jpg", "a.wld"), ("a.png", "a.wld")])  # fmt: skip
def test_a_picture_with_a_world_file_is_on_the_farms_grid_and_that_is_said(tmp_path, name, world):
    path = raster_file(tmp_path / name, PLAIN, None, None)
    (tmp_path / world).write_text(f"2\n0\n0\n-2\n{EAST + 1}\n{NORTH - 1}\n")
    file = look_at(path, NZTM)
    assert file.bounds == (EAST, NORTH - 40, EAST + 60, NORTH)
    assert "names no grid" in file.said[0]
    assert "EPSG:2193" in file.said[0]


def test_a_prj_file_beside_names_the_grid(tmp_path):
    path = raster_file(tmp_path / "a.png", PLAIN, None, None)
    lon, lat = (float(v[0]) for v in NZTM.lon_lat([EAST], [NORTH]))
    (tmp_path / "a.pgw").write_text(f"0.00001\n0\n0\n-0.00001\n{lon}\n{lat}\n")
    (tmp_path / "a.prj").write_text(pyproj.CRS.from_epsg(4167).to_wkt("WKT1_ESRI"))
    file = look_at(path, NZTM)
    assert file.bounds[0] == pytest.approx(EAST, abs=2)
    assert file.bounds[3] == pytest.approx(NORTH, abs=2)
    assert file.said == ()


def test_a_grid_may_be_named_for_a_file_that_names_none(tmp_path):
    path = raster_file(tmp_path / "a.png", PLAIN, None, None)
    (tmp_path / "a.pgw").write_text("2\n0\n0\n-2\n500001\n5399999\n")
    file = look_at(path, Grid(32760), "EPSG:32760")
    assert file.bounds[:1] == (500_000.0,)
    far = look_at(path, NZTM, "EPSG:32760")
    assert far.bounds[0] != pytest.approx(500_000, abs=1000)
    with pytest.raises(BadInput, match=r"a\.png: 'the moon' is not a grid"):
        look_at(path, NZTM, "the moon")


def test_a_turned_picture_has_the_bounds_of_its_corners(tmp_path):
    place = turned(EAST, NORTH, 2.0, 30)
    file = look_at(raster_file(tmp_path / "a.tif", PLAIN, place), NZTM)
    corners = np.array([laid(place, *corner) for corner in ((0, 0), (30, 0), (30, 20), (0, 20))])
    assert file.bounds == pytest.approx([*corners.min(axis=0), *corners.max(axis=0)])
    assert file.cell_m == pytest.approx(2.0)


def test_points_of_known_ground_in_a_file_will_do(tmp_path):
    corners = ((0, 0), (0, 30), (20, 30), (20, 0))
    points = [GroundControlPoint(row, col, EAST + 2 * col, NORTH - 2 * row) for row, col in corners]
    path = raster_file(tmp_path / "a.tif", PLAIN, None, "EPSG:2193", gcps=points)
    found = look_at(path, NZTM)
    assert found.bounds == pytest.approx((EAST, NORTH - 40, EAST + 60, NORTH))
    assert found.said == ()


def with_world_file(folder, content, name="a.pgw", **more):
    path = raster_file(folder / "a.png", PLAIN, None, None, **more)
    (folder / name).write_bytes(content)
    return path


WORLD = f"2.0\n0\n0\n-2.0\n{EAST + 1}\n{NORTH - 1}\n"


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("name", ["a.pgw", "a.pngw", "a.wld", "a.PGW"])
def test_a_world_file_may_be_in_any_encoding(tmp_path, encoding, name):
    file = look_at(with_world_file(tmp_path, WORLD.encode(encoding), name), NZTM)
    assert file.bounds == (EAST, NORTH - 40, EAST + 60, NORTH)


def test_a_turned_picture_is_turned_by_its_world_file_in_any_encoding(tmp_path):
    a, b, c, d, e, f = turned(EAST, NORTH, 2.0, 30)[:6]
    world = "\n".join(map(repr, (a, d, b, e, c + a / 2 + b / 2, f + d / 2 + e / 2)))
    plain = look_at(with_world_file(tmp_path, world.encode()), NZTM)
    assert plain.affine == pytest.approx((a, b, c, d, e, f))
    assert look_at(with_world_file(tmp_path, world.encode("utf-8-sig")), NZTM).affine == pytest.approx(plain.affine)


def test_a_world_file_may_lay_a_dot_on_every_metre_of_a_local_grid(tmp_path):
    path = with_world_file(tmp_path, b"1\n0\n0\n1\n0.5\n0.5\n")
    assert look_at(path, Grid(2193, local=True)).bounds == (0, 0, 30, 20)


@pytest.mark.parametrize("content", [b"", b"1\n0\n", b"here\n" * 6, bytes(range(40))])
def test_a_world_file_that_is_none_is_said(tmp_path, content):
    with pytest.raises(BadInput, match=r"a\.pgw is not the world file of a picture"):
        look_at(with_world_file(tmp_path, content), NZTM)


@pytest.mark.parametrize("content", [b"EPSG:32760", b" epsg::32760\n", b"32760", "EPSG:32760".encode("utf-16")])
def test_a_prj_file_may_name_the_grid_by_its_number(tmp_path, content):
    path = with_world_file(tmp_path, b"2\n0\n0\n-2\n500001\n5399999\n")
    (tmp_path / "a.prj").write_bytes(content)
    assert look_at(path, Grid(32760)).bounds[0] == 500_000
    assert look_at(path, Grid(32760)).said == ()
    assert look_at(path, NZTM).bounds[0] > 1_500_000


@pytest.mark.parametrize("content", [b"banana", b"EPSG:99999999", bytes(range(40))])
def test_a_prj_file_that_names_no_grid_is_said(tmp_path, content):
    path = with_world_file(tmp_path, WORLD.encode())
    (tmp_path / "a.prj").write_bytes(content)
    with pytest.raises(BadInput, match=r"a\.png (names a grid that is not known|lies, and cannot be read)"):
        look_at(path, NZTM)


def test_sixteen_bits_without_a_sign_are_a_picture_unless_they_are_said_to_be_heights(tmp_path):
    path = raster_file(tmp_path / "a.tif", np.full((1, 9, 9), 120, np.uint16), north_up(EAST, NORTH, 5))
    for kind in ("", "picture"):
        found = look_at(path, NZTM, kind=kind)
        assert found.kind == "picture"
        assert "may hold heights as well" in found.said[0]
    found = look_at(path, NZTM, kind="elevation")
    assert found.kind == "elevation"
    assert found.said == ("The heights in a.tif are taken to be in metres.",)
    assert look_at(raster_file(tmp_path / "b.tif", PLAIN.astype(np.uint16), north_up(EAST, NORTH, 5)), NZTM).said == ()


def _radar(folder):
    return raster_file(folder / "radar.tif", np.ones((1, 9, 9), np.complex64), north_up(EAST, NORTH, 5))


def _from_the_middle_of_the_earth(folder):
    return raster_file(folder / "deep.tif", PLAIN, north_up(EAST, NORTH, 2), "EPSG:4978")


def _no_place(folder):
    return raster_file(folder / "far.jpg", PLAIN, None, None)


def _not_there(folder):
    return folder / "gone.tif"


def _no_picture(folder):
    path = folder / "notes.tif"
    path.write_text("I am not a picture")
    return path


def _cut_off(folder):
    path = raster_file(folder / "half.tif", PLAIN, north_up(EAST, NORTH, 2))
    path.write_bytes(path.read_bytes()[:100])
    return path


def _other_side(folder):
    return raster_file(folder / "pole.tif", PLAIN, north_up(0.0, 95.0, 0.5), "EPSG:4326")


def _senseless(folder):
    path = raster_file(folder / "odd.png", PLAIN, None, None)
    (folder / "odd.pgw").write_text("0\n0\n0\n0\n5\n5\n")
    return path


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (_no_place, r"far\.jpg does not say where on the ground it lies.*far\.jgw"),
        (_not_there, r"gone\.tif is not in .*put it back"),
        (_no_picture, r"notes\.tif cannot be read as a picture"),
        (_cut_off, r"half\.tif cannot be read"),
        (_other_side, r"pole\.tif lies where the farm's grid"),
        (_senseless, r"odd\.png.*(makes no sense|does not say where)"),
        (_radar, r"radar\.tif holds complex numbers"),
        (_from_the_middle_of_the_earth, r"deep\.tif lies on WGS 84.*neither a plane grid nor.*EPSG:2193"),
        (lambda folder: folder, r"is a folder"),
    ],
    ids=[
        "no place",
        "not there",
        "no picture",
        "cut off",
        "other side",
        "senseless",
        "complex",
        "geocentric",
        "folder",
    ],
)
def test_what_cannot_be_used_is_said_with_what_to_do(tmp_path, make, words):
    with pytest.raises(BadInput, match=words):
        look_at(make(tmp_path), NZTM)


def test_a_farm_measured_from_a_post_takes_no_picture_that_has_a_grid(tmp_path):
    path = raster_file(tmp_path / "a.tif", PLAIN, north_up(EAST, NORTH, 2.0))
    with pytest.raises(BadInput, match="measured from a corner post"):
        look_at(path, Grid(2193, local=True))
    own = raster_file(tmp_path / "own.tif", PLAIN, north_up(0, 100, 2.0), None)
    assert look_at(own, Grid(2193, local=True)).bounds == (0, 60, 60, 100)


def test_a_large_file_without_smaller_versions_is_said_to_be_slow(tmp_path, monkeypatch):
    monkeypatch.setattr("farmmap.files.rasters.LARGE_DOTS", 500)
    path = raster_file(tmp_path / "a.tif", PLAIN, north_up(EAST, NORTH, 2.0))
    assert "takes a while" in " ".join(look_at(path, NZTM).said)
