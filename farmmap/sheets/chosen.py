"""What is chosen to be printed, as a value: composed to pages, and written down to be kept with the farm."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, replace

from farmmap.errors import BadInput
from farmmap.scene.page_moves import Moved
from farmmap.sheets.page import SheetOptions

WHOLE_FARM = "farm"
PACK = "pack"
"""What kept choices are for that are no sheet's, but those of a pack."""

NOT_KEPT = frozenset({"printed_on", "folder"})
"""Choices that hold for one printing only."""


@dataclass(frozen=True)
class SheetChoices:
    """What is printed, and how.

    Attributes
    ----------
    what : str
        One of `farmmap.sheets.subjects.SUBJECTS`.
    of : str
        Which plan, by its name, or which block, by its row; "" where there is nothing to choose.
    options : SheetOptions
        Paper, scale, look, and what stands where.
    """

    what: str = WHOLE_FARM
    of: str = ""
    options: SheetOptions = field(default_factory=SheetOptions)

    def with_options(self, **choices: object) -> SheetChoices:
        """Return it with other options."""
        return replace(self, options=replace(self.options, **choices))  # type: ignore[arg-type]

    def with_moved(self, one: Moved) -> SheetChoices:
        """Return it with an element put somewhere by hand."""
        return self.with_options(moved=(*(was for was in self.options.moved if was.name != one.name), one))

    @property
    def is_by_hand(self) -> bool:
        """Whether there is work in it that would have to be done again: elements put somewhere, or own words."""
        chosen = self.options
        return bool(chosen.moved or chosen.left_out or chosen.note or chosen.credits or chosen.version)


def written(choices: SheetChoices) -> dict[str, object]:
    """Return choices as texts, numbers and lists, without those that are as farmmap proposes them."""
    said: dict[str, object] = {"what": choices.what, "of": choices.of}
    usual = SheetOptions()
    for one in fields(SheetOptions):
        value = getattr(choices.options, one.name)
        if one.name not in NOT_KEPT and value != getattr(usual, one.name):
            said[one.name] = _plain(value)
    return said


def read(values: Mapping[str, object]) -> tuple[SheetChoices, tuple[str, ...]]:
    """Return choices that were written down, and what of them could not be used, in words.

    Parameters
    ----------
    values : mapping of str to object
        As `written` gives them; what another program spoilt is left out and said.
    """
    options: dict[str, object] = {}
    notes: list[str] = []
    for name, value in values.items():
        if name in {"what", "of"}:
            continue
        try:
            options[name] = _READERS[name](value)
        except KeyError:
            notes.append(f"what it says of “{name}” is not known to this farmmap and is left out")
        except BadInput as error:
            notes.append(f"its {name.replace('_', ' ')} cannot be read ({error}) and is left as farmmap proposes it")
    what, of = values.get("what", WHOLE_FARM), values.get("of", "")
    chosen = SheetChoices(str(what), str(of), SheetOptions(**options))  # type: ignore[arg-type]
    return chosen, tuple(notes)


def _plain(value: object) -> object:
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, tuple):
        return [{part.name: getattr(one, part.name) for part in fields(one)} for one in value]
    return value


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise BadInput("it is no text")
    return value


def _yes_no(value: object) -> bool:
    if not isinstance(value, bool):
        raise BadInput("it is neither yes nor no")
    return value


def _scale(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value <= 0:
        raise BadInput("it is no scale")
    return value


def _names(value: object) -> frozenset[str]:
    if not isinstance(value, list):
        raise BadInput("it is no list")
    return frozenset(_text(one) for one in value)


def _length(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise BadInput("a length is no number")
    return float(value)


def _moved(value: object) -> tuple[Moved, ...]:
    if not isinstance(value, list) or not all(isinstance(one, dict) for one in value):
        raise BadInput("it is no list of places")
    found = {}
    for one in value:
        sides = (one.get("width"), one.get("height"))
        width, height = (None if side is None else _length(side) for side in sides)
        name = _text(one.get("name"))
        found[name] = Moved(name, _length(one.get("x")), _length(one.get("y")), width, height)
    return tuple(found.values())


def _or_none(reader: Callable[[object], object]) -> Callable[[object], object]:
    return lambda value: None if value is None else reader(value)


_READERS: dict[str, Callable[[object], object]] = {
    "paper": _text,
    "landscape": _or_none(_yes_no),
    "scale": _or_none(_scale),
    "title": _or_none(_text),
    "hidden": _names,
    "look": _text,
    "graticule": _yes_no,
    "declination": _yes_no,
    "overview": _or_none(_yes_no),
    "beside": _yes_no,
    "photos": _yes_no,
    "note": _text,
    "credits": _text,
    "version": _text,
    "left_out": _names,
    "moved": _moved,
}
"""How each choice of `SheetOptions` that is kept is read."""
