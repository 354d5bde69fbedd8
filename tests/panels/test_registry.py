"""Panels are found by entry point, ours and others', and what cannot be loaded is reported."""

import datetime as dt
import importlib.metadata
import subprocess
import sys

import pytest

from farmmap.panels.registry import GROUP, Options, find_panels
from farmmap.scene.scene import Chosen


def test_our_own_panels_come_first_and_by_the_same_door():
    panels, broken = find_panels()
    assert [panel.name for panel in panels[:4]] == ["Blocks", "Creek margins", "Trees", "Ground"]
    assert broken == ()


def test_a_panel_of_another_package_is_found_and_a_broken_one_reported(monkeypatch):
    entries = [
        importlib.metadata.EntryPoint("other", "farmmap_elsewhere:PANEL", GROUP),
        importlib.metadata.EntryPoint("odd", "datetime:date", GROUP),
        importlib.metadata.EntryPoint("blocks", "farmmap.panels.blocks:PANEL", GROUP),
    ]
    monkeypatch.setattr(importlib.metadata, "entry_points", lambda group: entries if group == GROUP else [])
    panels, broken = find_panels()
    assert [panel.name for panel in panels] == ["Blocks"]
    assert [panel.name for panel in broken] == ["other", "odd"]
    assert "farmmap_elsewhere" in broken[0].report
    assert "not a Panel" in broken[1].report


def test_the_first_panel_of_the_sample_farm_is_worked_out_without_scipy():
    code = "import datetime as dt, sys\n"
    code += "from farmmap.files.farm_file import read_farm\nfrom farmmap.figures.blocks import block_figures\n"
    code += "from farmmap.resource_files import sample_farm_path\n"
    code += "table = block_figures(read_farm(sample_farm_path()), dt.date(2026, 5, 7))\n"
    code += "assert any(row.get('plots_stems_per_ha_low') for row in table.rows), 'no block is sampled'\n"
    code += "assert 'scipy' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True, timeout=120)


def test_finding_panels_brings_in_no_qt():
    code = "import sys; from farmmap.panels.registry import find_panels; assert len(find_panels()[0]) >= 3; "
    code += "assert not any('PySide6' in m for m in sys.modules)"
    subprocess.run([sys.executable, "-c", code], check=True)


@pytest.mark.parametrize("place", range(3))
def test_every_panel_works_out_the_small_farm(farm, day, place):
    panel = find_panels()[0][place]
    values = {option.name: option.start(farm) for option in panel.options}
    table = panel.work_out(farm, Options(day, Chosen("tree", 1), values))
    assert len(table.rows) == {"Blocks": 2, "Creek margins": 2, "Trees": 1}[panel.name]
    assert table.as_text()


def test_blocks_panel_uses_the_class_width_it_is_given(farm):
    blocks = find_panels()[0][0]
    table = blocks.work_out(farm, Options(dt.date(2021, 1, 1), None, {"class_cm": 20.0}))
    assert [(part["from_cm"], part["stems"]) for part in table.rows[0]["diameter_classes"]] == [(0.0, 1), (20.0, 1)]


def test_finding_panels_brings_in_nothing_heavy_that_a_farm_on_the_screen_has_no_use_for():
    code = "from farmmap.panels.registry import find_panels; import sys; find_panels()\n"
    code += "found = {'scipy', 'pyogrio', 'rasterio', 'pikepdf', 'pygeomag'} & {m.split('.')[0] for m in sys.modules}\n"
    code += "assert not found, found"
    subprocess.run([sys.executable, "-c", code], check=True, timeout=120)
