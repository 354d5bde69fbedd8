"""A guard around each tool: one that fails is laid down with a report, and the window goes on."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from farmmap.window.map_tool import MapTool

HOOKS: dict[str, object] = {
    "begin": None,
    "end": None,
    "take_focus": None,
    "words": "",
    "answers": (),
    "options": None,
    "beside": None,
    "key": (),
    "pressed": True,
    "dragged": None,
    "released": None,
    "clicked": True,
    "double_clicked": True,
    "hovered": None,
    "left": None,
    "key_pressed": True,
    "wants_shortcut": False,
    "farm_changed": None,
    "paint": None,
}
"""Every method of a tool that the map and the bench call, and what they get in place of an answer when it fails."""


def guard(tool: MapTool, failed: Callable[[MapTool, Exception], None]) -> None:
    """Let nothing that a tool raises reach Qt.

    Parameters
    ----------
    tool : MapTool
        Its own methods stay; those that are called from outside are put in front of them.
    failed : callable
        Given the tool and what it raised.
    """
    for name, instead in HOOKS.items():
        setattr(tool, name, _guarded(tool, getattr(tool, name), instead, failed))


def _guarded(
    tool: MapTool, method: Callable[..., Any], instead: object, failed: Callable[[MapTool, Exception], None]
) -> Callable[..., Any]:
    def call(*arguments: object) -> Any:
        try:
            return method(*arguments)
        except Exception as error:  # noqa: BLE001 - somebody else's tool may fail in any way; the window goes on
            failed(tool, error)
            return instead

    return call
