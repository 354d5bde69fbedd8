"""``farmmap pack`` as people and scripts use it."""

import pytest
from click.testing import CliRunner

from farmmap.commands import main
from farmmap.editing.pack_parts import kept_parts
from farmmap.files.farm_file import read_farm, write_farm


@pytest.fixture
def path(farm, tmp_path):
    path = tmp_path / "small.gpkg"
    write_farm(farm, path)
    return path


def run(*arguments, code=0):
    found = CliRunner().invoke(main, ["pack", *map(str, arguments)])
    assert found.exit_code == code, found.output
    return found.output


@pytest.fixture
def _with_qt(request):
    """Pages need Qt's fonts; the window's own kind of application serves the tests that come later too."""
    pytest.importorskip("PySide6.QtGui")
    request.getfixturevalue("qapp")


def test_something_must_be_asked_for(path):
    assert "say what is wanted" in run(path, code=2)


def test_the_pack_is_a_pdf_and_never_the_farm(path, tmp_path):
    before = path.read_bytes()
    assert "does not end in .pdf" in run(path, "--out", tmp_path / "pack.png", code=2)
    assert "does not end in .pdf" in run(path, "--out", path, code=2)
    assert "is not there; make it first" in run(path, "--out", tmp_path / "none" / "pack.pdf", code=2)
    assert path.read_bytes() == before


def test_data_go_into_a_folder(path, tmp_path):
    found = run(path, "--data", path, code=1)
    assert "is a file, not a folder" in found
    assert "make it first" in run(path, "--data", tmp_path / "none" / "data", code=1)


def test_data_are_never_written_over_the_farm(path, tmp_path):
    folder = tmp_path / "data"
    folder.mkdir()
    (folder / "README.txt").write_text("Written by farmmap.\n\n  layers.gpkg\n", encoding="utf-8")
    farm = path.rename(folder / "layers.gpkg")
    before = farm.read_bytes()
    assert "choose another folder" in run(farm, "--data", folder, code=2)
    assert farm.read_bytes() == before


@pytest.mark.usefixtures("_with_qt")
def test_the_pack_and_its_data_are_written_and_told(path, tmp_path):
    said = run(path, "--out", tmp_path / "pack.pdf", "--data", tmp_path / "data", "--edition", "draft 2")
    assert "pack.pdf: " in said
    assert "Left out: Planned works" in said
    assert (tmp_path / "pack.pdf").read_bytes().startswith(b"%PDF")
    assert (tmp_path / "data" / "layers.gpkg").exists()
    assert "listed in README.txt" in said


@pytest.mark.usefixtures("_with_qt")
def test_parts_are_listed_with_their_state(path):
    said = run(path, "--list", "--parts", "summary,costs")
    lines = {line.split("  ")[0].strip(): line for line in said.splitlines()}
    assert "taken" in lines["summary"]
    assert "left out: no plan is given" in lines["costs"]
    assert "not taken" in lines["location"]


@pytest.mark.usefixtures("_with_qt")
def test_an_unknown_part_is_refused_with_the_nearest(path, tmp_path):
    said = run(path, "--out", tmp_path / "pack.pdf", "--parts", "summary,permisions", code=1)
    assert "no part called 'permisions'" in said
    assert "Is permissions meant?" in said
    assert not (tmp_path / "pack.pdf").exists()


@pytest.mark.usefixtures("_with_qt")
def test_texts_are_given_as_words_or_as_a_file_and_kept(path, tmp_path):
    words = tmp_path / "words.txt"
    words.write_text("Planted by my grandfather.\n", encoding="utf-8")
    texts = ("--text", "Location=By the ford.", "--text", f"existing=@{words}")
    said = run(path, "--keep", "--name", "Council", "--parts", "location,existing", *texts)
    assert "the parts and texts of Council are now in the farm" in said
    kept = kept_parts(read_farm(path), "Council")
    assert [(one.part, one.text) for one in kept if one.taken] == [
        ("location", "By the ford."),
        ("existing", "Planted by my grandfather."),
    ]
    listed = run(path, "--list", "--name", "council").splitlines()
    assert [line.split()[0] for line in listed if "  own  " in line] == ["location", "existing"]
    assert "kept already, just as it is" in run(path, "--keep", "--name", "Council", code=1)


@pytest.mark.usefixtures("_with_qt")
def test_a_text_for_no_part_or_from_no_file_is_refused(path, tmp_path):
    out = ("--out", tmp_path / "pack.pdf")
    assert "is not PART=TEXT" in run(path, *out, "--text", "just words", code=2)
    assert "cannot be read as text" in run(path, *out, "--text", f"summary=@{tmp_path / 'none.txt'}", code=2)
    assert "no part called 'weather'" in run(path, *out, "--text", "weather=fine", code=1)
