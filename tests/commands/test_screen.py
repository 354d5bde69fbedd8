"""Why a window cannot be opened, in words, from what Qt says of it."""

import pytest

from farmmap.screen import NO_SCREEN, may_have_screen, why_no_window

FATAL = "This application failed to start because no Qt platform plugin could be initialized.\n\nAvailable are: xcb.\n"
NEEDED = "From 6.5.0, xcb-cursor0 or libxcb-cursor0 is needed to load the Qt xcb platform plugin."


@pytest.mark.parametrize("first", ["could not connect to display :7", "Failed to create wl_display (No such file)"])
def test_a_screen_that_does_not_answer(first):
    assert why_no_window([first, NEEDED, FATAL]) == NO_SCREEN


def test_a_library_that_is_missing_is_named_with_what_installs_it():
    words = why_no_window([NEEDED, FATAL])
    assert NEEDED in words
    assert "apt-get install -y libxcb-cursor0 " in words


@pytest.mark.parametrize(("said", "words"), [([FATAL], "could be initialized."), ([], "Qt does not say why")])
def test_what_is_not_known_is_told_as_qt_tells_it_in_one_line(said, words):
    assert f"{words})" in why_no_window(said)
    assert "\n" not in why_no_window(said)


@pytest.mark.parametrize(
    ("named", "may"),
    [
        ({}, False),
        ({"DISPLAY": ":0"}, True),
        ({"WAYLAND_DISPLAY": "wayland-0"}, True),
        ({"DISPLAY": ":0", "QT_QPA_PLATFORM": "offscreen"}, False),
        ({"DISPLAY": ":0", "QT_QPA_PLATFORM": "xcb"}, True),
    ],
)
def test_a_screen_must_be_named_on_linux(monkeypatch, named, may):
    monkeypatch.setattr("sys.platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    for name, value in named.items():
        monkeypatch.setenv(name, value)
    assert may_have_screen() is may
