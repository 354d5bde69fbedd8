"""Finding the parts that packages offer by entry point, ours and anybody's by the same door."""

from __future__ import annotations

import importlib.metadata
import traceback
from dataclasses import dataclass
from typing import TypeVar

Part = TypeVar("Part")


@dataclass(frozen=True)
class BrokenPart:
    """A part that could not be loaded, and the report of why."""

    name: str
    report: str


def installed_parts(group: str, kind: type[Part]) -> tuple[tuple[Part, ...], tuple[BrokenPart, ...]]:
    """Return the parts that are installed under a group of entry points, and those that could not be loaded.

    Parameters
    ----------
    group : str
        Name of the group, such as ``farmmap.panels``.
    kind : type
        What every entry of the group must be an instance of.
    """
    parts: list[Part] = []
    broken: list[BrokenPart] = []
    for entry in importlib.metadata.entry_points(group=group):
        try:
            parts.append(_loaded(entry, kind))
        except Exception:  # noqa: BLE001 - somebody else's package may fail in any way; the window goes on
            broken.append(BrokenPart(entry.name, traceback.format_exc()))
    return tuple(parts), tuple(broken)


def _loaded(entry: importlib.metadata.EntryPoint, kind: type[Part]) -> Part:
    part = entry.load()
    if not isinstance(part, kind):
        raise TypeError(f"{entry.value} is a {type(part).__name__}, not a {kind.__name__}")
    return part
