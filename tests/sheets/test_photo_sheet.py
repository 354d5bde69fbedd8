"""The sheet of photo points: a map without trees, their table, and pages of photographs."""

import shutil

import pytest

from farmmap.errors import BadInput
from farmmap.files.farm_file import read_farm
from farmmap.resource_files import sample_farm_files
from farmmap.scene.page_items import Picture
from farmmap.scene.scene import MarkLayer, TreeLayer
from farmmap.sheets.page import SheetOptions
from farmmap.sheets.photo_sheet import compose_photo_points
from farmmap.sheets.write import write_sheet


def test_the_sample_farm_s_photo_points(qapp, tmp_path):
    for path in sample_farm_files():
        shutil.copyfile(path, tmp_path / path.name)
    farm = read_farm(tmp_path / "pipit_downs.gpkg")
    sheet = compose_photo_points(farm, None, SheetOptions(folder=tmp_path))
    assert sheet.title == "Photo points of Pipit Downs"
    layers = sheet.scene.layers
    assert [
        layer.ids.tolist() for layer in layers if isinstance(layer, MarkLayer) and layer.name == "photo_points"
    ] == [[1, 2, 3]]
    assert not any(isinstance(layer, TreeLayer) for layer in layers)
    assert len(sheet.pages) == 2
    assert sum(isinstance(item, Picture) for box in sheet.pages[1].boxes for item in box.items) == 3
    assert not sheet.messages
    write_sheet(sheet, tmp_path / "points.pdf")
    assert (tmp_path / "points.pdf").stat().st_size < 1_500_000
    (tmp_path / "look_out_2026.jpg").unlink()
    lost = compose_photo_points(farm, None, SheetOptions(folder=tmp_path))
    assert any("look_out_2026.jpg is not in" in message for message in lost.messages)
    assert sum(isinstance(item, Picture) for box in lost.pages[1].boxes for item in box.items) == 2


def test_a_farm_without_points_says_so(farm):
    with pytest.raises(BadInput, match="no photo points are drawn"):
        compose_photo_points(farm)
