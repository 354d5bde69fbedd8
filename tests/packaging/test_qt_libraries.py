"""Missing system libraries are named, with the line that installs them."""

from __future__ import annotations

import pytest
import qt_libraries

LISTING = """\
/somewhere/QtGui.abi3.so:
\tlinux-vdso.so.1 (0x00007ffd)
\tlibEGL.so.1 => not found
\tlibc.so.6 => /lib/libc.so.6 (0x00007f)
/somewhere/libqxcb.so:
\tlibEGL.so.1 => not found
\tlibxcb-cursor.so.0 => not found
"""


@pytest.fixture
def machine(tmp_path, monkeypatch):
    """Put a made-up ldd, apt-get and sudo first, and return what they wrote down of their calls."""
    calls = tmp_path / "calls"
    calls.write_text("")
    listing = tmp_path / "listing"
    listing.write_text(LISTING)
    tools = {
        "ldd": f"cat {listing}",
        "apt-get": f'echo "apt-get $*" >> {calls}; case "$1" in install) : > {listing};; esac',
        "sudo": "exit 1",
    }
    for name, words in tools.items():
        (tmp_path / name).write_text(f"#!/bin/sh\n{words}\n")
        (tmp_path / name).chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")
    qt = tmp_path / "PySide6"
    qt.mkdir()
    (qt / "QtGui.abi3.so").touch()
    return qt, calls


def test_missing_libraries_are_read_from_the_listing(machine):
    assert qt_libraries.missing_libraries([machine[0] / "QtGui.abi3.so"]) == ["libEGL.so.1", "libxcb-cursor.so.0"]


def test_the_administrator_has_them_installed_at_once(machine, monkeypatch, capsys):
    qt, calls = machine
    monkeypatch.setattr("os.geteuid", lambda: 0)
    assert qt_libraries.see_to_libraries(qt, on_screen=True) == ""
    assert "apt-get install -y libegl1 libxcb-cursor0" in capsys.readouterr().out
    assert calls.read_text().splitlines() == ["apt-get update -q", "apt-get install -y -q libegl1 libxcb-cursor0"]


def test_others_are_told_the_line(machine, monkeypatch):
    qt, calls = machine
    monkeypatch.setattr("os.geteuid", lambda: 1000)
    advice = qt_libraries.see_to_libraries(qt, on_screen=True)
    assert "libEGL.so.1, libxcb-cursor.so.0" in advice
    assert "sudo apt-get install -y libegl1 libxcb-cursor0" in advice
    assert calls.read_text() == ""


def test_other_systems_are_told_the_names(machine, monkeypatch):
    qt, _ = machine
    found = qt_libraries.shutil.which
    monkeypatch.setattr(qt_libraries.shutil, "which", lambda name: None if name == "apt-get" else found(name))
    advice = qt_libraries.see_to_libraries(qt, on_screen=True)
    assert "libEGL.so.1, libxcb-cursor.so.0" in advice
    assert "apt-get" not in advice


def test_nothing_is_said_when_nothing_is_missing(machine):
    qt, calls = machine
    (calls.parent / "listing").write_text("\tlibc.so.6 => /lib/libc.so.6 (0x00007f)\n")
    assert qt_libraries.see_to_libraries(qt, on_screen=False) == ""


def test_platform_files_follow_the_screen(machine, monkeypatch):
    qt, _ = machine
    platforms = qt / "Qt" / "plugins" / "platforms"
    platforms.mkdir(parents=True)
    for name in ("libqoffscreen.so", "libqxcb.so", "libqwayland.so"):
        (platforms / name).touch()
    monkeypatch.setenv("DISPLAY", ":0")
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    names = {path.name for path in qt_libraries.files_to_load(qt, on_screen=True)}
    assert names == {"QtGui.abi3.so", "libqoffscreen.so", "libqxcb.so"}
    names = {path.name for path in qt_libraries.files_to_load(qt, on_screen=False)}
    assert names == {"QtGui.abi3.so", "libqoffscreen.so"}
