"""The Ground panel, by the registry."""

import pytest

from farmmap.panels.registry import Options, find_panels
from tests.scene.backdrop_farm import backdrop_farm


@pytest.fixture
def panel():
    return next(panel for panel in find_panels()[0] if panel.name == "Ground")


def test_it_finds_the_heights_beside_the_farm_file(panel, tmp_path, day):
    farm = backdrop_farm(tmp_path)
    values = {option.name: option.start(farm) for option in panel.options}
    assert values == {"steep_from_deg": 15.0, "very_steep_from_deg": 25.0}
    table = panel.work_out(farm, Options(day, None, values, tmp_path))
    assert [row["name"] for row in table.rows] == ["North Terrace", "Far Slope"]
    assert table.ids == (1, 2)
    assert table.rows[0]["heights_percent"] == pytest.approx(100)
    assert "hills.tif are taken to be in metres" in table.notes[0]
    steeper = panel.work_out(farm, Options(day, None, {"steep_from_deg": 1.0}, tmp_path))
    assert steeper.rows[0]["steep_percent"] > table.rows[0]["steep_percent"]


def test_without_heights_it_says_how_to_add_them(panel, farm, day, tmp_path):
    table = panel.work_out(farm, Options(day))
    assert not table.rows
    assert "Backdrops" in table.notes[-1]
    gone = backdrop_farm(tmp_path)
    (tmp_path / "hills.tif").unlink()
    notes = panel.work_out(gone, Options(day, None, {}, tmp_path)).notes
    assert "hills.tif is not in" in notes[0]


def test_it_is_stale_when_backdrops_change(panel):
    assert {"backdrops", "blocks", "creeks"} <= panel.reads
