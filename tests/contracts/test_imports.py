"""What importing farmmap may bring in."""

import importlib
import pkgutil
import subprocess
import sys

import farmmap

BELOW = ("farmmap.farm", "farmmap.files", "farmmap.figures", "farmmap.editing", "farmmap.scene")


def run(code):
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)


def test_import_farmmap_brings_in_no_qt_and_nothing_heavy():
    done = run(
        "import farmmap, sys\n"
        "heavy = [m for m in sys.modules if m.split('.')[0] in ('PySide6', 'geopandas', 'pandas', 'numpy')]\n"
        "assert not heavy, heavy"
    )
    assert done.returncode == 0, done.stderr


def test_everything_below_the_line_imports_no_qt():
    code = "import importlib, pkgutil, sys\n"
    for room in BELOW:
        code += (
            f"room = importlib.import_module('{room}')\n"
            f"for found in pkgutil.walk_packages(room.__path__, '{room}.'): importlib.import_module(found.name)\n"
        )
    code += "import farmmap.commands\n"
    code += "found = [m for m in sys.modules if m.split('.')[0] in ('PySide6', 'shiboken6')]\nassert not found, found"
    done = run(code)
    assert done.returncode == 0, done.stderr


def test_all_that_farmmap_offers_is_there():
    for name in farmmap.__all__:
        assert getattr(farmmap, name) is not None
    assert set(farmmap._PLACES) == set(farmmap.__all__) - {"__version__"}


def test_every_room_says_what_it_holds():
    for found in pkgutil.walk_packages(farmmap.__path__, "farmmap."):
        if found.name.startswith(BELOW):
            assert (importlib.import_module(found.name).__doc__ or "").strip(), found.name
