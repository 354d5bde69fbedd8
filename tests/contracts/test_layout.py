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
