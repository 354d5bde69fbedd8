"""The script that sets farmmap up: what it says to old Pythons, how it finds a pip, when it has nothing to do."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest
import start

CHECKOUT = Path(__file__).resolve().parents[2]
START = CHECKOUT / "packaging" / "start.py"


@pytest.fixture
def checkout(tmp_path, monkeypatch):
    """Put a made-up checkout with locks in place of this one, and take down what is run in place of running it."""
    (tmp_path / "packaging" / "locks").mkdir(parents=True)
    (tmp_path / "pyproject.toml").write_text("[project]")
    for name in ("window", "test"):
        (tmp_path / "packaging" / "locks" / f"{name}.txt").write_text(f"{name}==1")
    monkeypatch.setattr(start, "CHECKOUT", tmp_path)
    monkeypatch.setattr(start, "LOCKS", tmp_path / "packaging" / "locks")
    made: list[bool] = []
    ran: list[list[str]] = []

    def pip_for(folder, python, *, afresh):
        made.append(afresh)
        python.parent.mkdir(parents=True, exist_ok=True)
        python.touch()
        return ["pip"]

    monkeypatch.setattr(start, "pip_for", pip_for)
    monkeypatch.setattr(start, "_run", ran.append)
    return tmp_path, made, ran


def test_an_older_python_can_read_the_script():
    ast.parse(START.read_text("utf-8"), feature_version=(3, 7))


def test_an_older_python_is_told_which_one_to_use():
    pretend = f"import runpy, sys; sys.version_info = (3, 9, 1); runpy.run_path({str(START)!r}, run_name='__main__')"
    done = subprocess.run([sys.executable, "-c", pretend], check=False, capture_output=True, text=True)
    assert done.returncode == 1
    assert "needs Python 3.11 or later, and this is 3.9" in done.stderr


@pytest.mark.parametrize(("arguments", "code"), [(["nonsense"], 2), (["test", "more"], 2), (["--help"], 0)])
def test_what_it_cannot_do_is_answered_with_what_it_can(arguments, code, capsys):
    assert start.main(arguments) == code
    assert "start.py test" in capsys.readouterr().out


def test_packages_come_by_hash_and_farmmap_without_any_others(checkout):
    folder, _, ran = checkout
    start.environment(folder / ".venv", "window")
    assert [("--require-hashes" in command, "--no-deps" in command) for command in ran] == [
        (True, False),
        (False, True),
    ]
    assert ran[0][-1].endswith("window.txt")


def test_the_second_time_there_is_nothing_to_do(checkout):
    folder, made, _ = checkout
    first = start.environment(folder / ".venv", "window")
    assert start.environment(folder / ".venv", "window") == first
    assert made == [True]


def test_what_was_set_up_for_the_tests_will_do_for_the_window(checkout):
    folder, made, _ = checkout
    start.environment(folder / ".venv", "test")
    start.environment(folder / ".venv", "window", also_set_up_by="test")
    assert made == [True]


def test_a_changed_lock_is_installed_into_the_same_environment(checkout):
    folder, made, ran = checkout
    start.environment(folder / ".venv", "window")
    (folder / "packaging" / "locks" / "window.txt").write_text("window==2")
    start.environment(folder / ".venv", "window")
    assert made == [True, False]
    assert len(ran) == 4


def test_an_environment_of_a_moved_checkout_is_made_afresh(checkout, monkeypatch):
    folder, made, _ = checkout
    start.environment(folder / ".venv", "window")
    monkeypatch.setattr(start, "CHECKOUT", folder / "." / "elsewhere")
    (folder / "elsewhere").mkdir()
    (folder / "elsewhere" / "pyproject.toml").write_text("[project]")
    start.environment(folder / ".venv", "window")
    assert made == [True, True]


def test_half_an_installation_is_begun_again(checkout, monkeypatch):
    folder, made, _ = checkout

    def fails(command):
        raise start.SetUpError("no connection")

    with monkeypatch.context() as patch:
        patch.setattr(start, "_run", fails)
        with pytest.raises(start.SetUpError):
            start.environment(folder / ".venv", "window")
    start.environment(folder / ".venv", "window")
    assert made == [True, True]


@pytest.mark.parametrize(("missing", "pip"), [("ensurepip", ["-m", "pip", "--python"]), ("", ["-m", "pip"])])
def test_where_venv_brings_no_pip_the_one_beside_this_python_does_it(tmp_path, monkeypatch, missing, pip):
    found = start.importlib.util.find_spec
    monkeypatch.setattr(start.importlib.util, "find_spec", lambda name: None if name == missing else found(name))
    python = tmp_path / ".venv" / ("Scripts/python.exe" if start.WINDOWS else "bin/python")
    command = start.pip_for(tmp_path / ".venv", python, afresh=True)
    assert command[1 : 1 + len(pip)] == pip
    shown = subprocess.run([*command, "list"], check=True, capture_output=True, text=True).stdout
    assert "pandas" not in shown


def test_no_pip_at_all_is_said(tmp_path, monkeypatch):
    monkeypatch.setattr(start.importlib.util, "find_spec", lambda _: None)
    with pytest.raises(start.SetUpError, match="python3-venv"):
        start.pip_for(tmp_path / ".venv", tmp_path / ".venv" / "bin" / "python", afresh=True)


def test_a_benchmark_that_is_not_there_is_answered_with_those_that_are(capsys):
    assert start.main(["benchmark", "nonsense"]) == 1
    said = capsys.readouterr().err
    assert "nonsense" in said
    assert all(path.name.removesuffix("_speed.py") in said for path in start.BENCHMARKS.glob("*_speed.py"))


@pytest.mark.parametrize("script", sorted(start.BENCHMARKS.glob("*_speed.py")), ids=lambda path: path.stem)
def test_benchmarks_need_nothing_that_only_tests_have(script):
    without = "import runpy, sys; sys.modules.update(dict.fromkeys(['pytest', 'hypothesis', 'pytestqt']))"
    beside = f"sys.path.insert(0, {str(script.parent)!r})"  # as when the script itself is run
    command = f"{without}; {beside}; runpy.run_path({str(script)!r})"
    done = subprocess.run([sys.executable, "-c", command], check=False, capture_output=True, text=True)
    assert not done.returncode, done.stderr


def test_every_room_of_tests_is_run():
    rooms = {path.relative_to(CHECKOUT / "tests").parts[0] for path in (CHECKOUT / "tests").rglob("test_*.py")}
    assert rooms == {*start.BELOW_QT, *start.WITH_QT}


def test_what_draws_is_run_with_qt_and_the_rest_without():
    assert set(start.WITH_QT) - set(start.BELOW_QT) == {"drawing", "packaging", "panels", "sheets", "window"}


def test_ci_runs_what_the_readme_says():
    second = "python3 packaging/start.py test"
    assert second in (CHECKOUT / "README.md").read_text("utf-8")
    assert second in (CHECKOUT / ".ci" / "run").read_text("utf-8").splitlines()
