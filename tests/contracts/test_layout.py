"""How the tree is laid out."""

import tomllib
from pathlib import Path

import pytest

TOP = Path(__file__).parents[2]
CODE = sorted(
    [*(TOP / "farmmap").rglob("*.py"), *(TOP / "packaging").glob("*.py"), *(TOP / "sample_farm").glob("*.py")]
)


@pytest.mark.parametrize("path", CODE, ids=lambda path: str(path.relative_to(TOP)))
def test_no_file_grows_past_being_one_thing(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 500


def test_every_panel_folder_is_registered():
    registered = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]["entry-points"][
        "farmmap.panels"
    ]
    folders = {path.parent.name for path in (TOP / "farmmap" / "panels").glob("*/__init__.py")}
    assert folders == set(registered)


def test_no_room_is_a_drawer_for_odds_and_ends():
    for path in CODE:
        assert not {"utils", "helpers", "manager", "core", "common", "misc"} & {*path.relative_to(TOP).parts, path.stem}


def test_only_copies_of_shapes_are_made_ready():
    """The farm's own are shared by all that work on it, and two threads that ask one that is ready bring GEOS down."""
    code = (TOP / "farmmap").rglob("*.py")
    made_ready = [path for path in code if "shapely.prepare(" in path.read_text(encoding="utf-8")]
    assert made_ready == [TOP / "farmmap" / "figures" / "prepared.py"]
