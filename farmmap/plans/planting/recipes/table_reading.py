"""Taking a recipe's tables apart key by key, noting every fault instead of stopping at the first."""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from farmmap.farm.day_words import MONTHS
from farmmap.farm.species import plain
from farmmap.plans.planting.recipes.faults import Fault
from farmmap.plans.planting.recipes.keys import Holds, Key
from farmmap.plans.planting.recipes.printable import not_printed, on_one_line, printable
from farmmap.plans.planting.recipes.toml_lines import Path

LONGEST_TEXT = 2000
"""Letters that a text may have."""
MOST_IN_LIST = 200
"""Tables or entries that a list may hold."""


@dataclass(frozen=True)
class Said:
    """What a table says.

    Attributes
    ----------
    path : tuple
        Where it stands in the file.
    sound : mapping of str to object
        What can be used, by key.
    named : frozenset of str
        All known keys that are there, also those whose value cannot be used.
    """

    path: Path
    sound: Mapping[str, object]
    named: frozenset[str]

    def text(self, key: str, otherwise: str = "") -> str:
        """Return a text, or ``otherwise`` if there is none."""
        value = self.sound.get(key, otherwise)
        assert isinstance(value, str)  # as its key is described
        return value

    def number(self, key: str) -> float | None:
        """Return a number, None if there is none."""
        value = self.sound.get(key)
        return float(value) if isinstance(value, float | int) else None

    def raw(self, key: str) -> object:
        """Return what stands there untouched: a table or tables, not taken apart yet."""
        return self.sound.get(key)

    def only(self, *without: str) -> dict[str, object]:
        """Return all that can be used but for some keys."""
        return {key: value for key, value in self.sound.items() if key not in without}


@dataclass
class Reader:
    """Takes tables apart and keeps the faults.

    Attributes
    ----------
    lines : mapping of tuple to int
        Line of each key of the file.
    faults : list of Fault
        What was found wrong so far.
    titles : dict of tuple to str
        What a table is called in messages, where a place in a list says too little: ``zone 2 'Bank'``.
    """

    lines: Mapping[Path, int]
    faults: list[Fault] = field(default_factory=list)
    titles: dict[Path, str] = field(default_factory=dict)

    def line(self, path: Path) -> int:
        """Return the line of a key, or of what holds it."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 0)

    def fault(self, path: Path, why: str) -> None:
        """Note that what stands at ``path`` cannot be used."""
        self.faults.append(Fault(self.line(path), printable(self.words(path), "\ufffd"), printable(why, "\ufffd")))

    def words(self, path: Path) -> str:
        """Return what a path is called in messages."""
        parts: list[str] = []
        for length in range(1, len(path) + 1):
            here, step = path[:length], path[length - 1]
            title = self.titles.get(here)
            if isinstance(step, int):
                parts[-1] = title or f"{parts[-1]} {step + 1}"
            else:
                parts.append(title or (step if len(step) <= 60 else f"{step[:60]}…"))
        return ", ".join(parts)

    def table(self, value: object, keys: Sequence[Key], path: Path) -> Said:
        """Return what a table says, noting unknown keys and values that cannot be used."""
        if not isinstance(value, dict):
            self.fault(path, f"must be a table, not {_shown(value)}; see docs/recipes.md")
            return Said(path, {}, frozenset())
        known = {key.name: key for key in keys}
        sound: dict[str, object] = {}
        for name, inside in value.items():
            if name not in known:
                self.fault((*path, name), f"there is no such key{self.meant(name, known)}")
                continue
            taken = self._value(inside, known[name], (*path, name))
            if taken is not None:
                sound[name] = taken
        return Said(path, sound, frozenset(known.keys() & value.keys()))

    def tables(self, value: object, path: Path) -> list[tuple[object, Path]]:
        """Return the tables of a list of tables, each with its path; a single one counts as a list of one."""
        if isinstance(value, dict):
            return [(value, path)]
        if not isinstance(value, list):
            self.fault(path, f"must be a table, not {_shown(value)}; see docs/recipes.md")
            return []
        if len(value) > MOST_IN_LIST:
            self.fault(path, f"there are {len(value)}; a recipe can have {MOST_IN_LIST} at most")
            return []
        return [(inside, (*path, place)) for place, inside in enumerate(value)]

    def named_tables(self, value: object, path: Path, names: Collection[str]) -> dict[str, object]:
        """Return the entries of a table whose keys are names; unknown ones are noted."""
        if not isinstance(value, dict):
            self.fault(path, f"must be a table, not {_shown(value)}; see docs/recipes.md")
            return {}
        kept: dict[str, object] = {}
        for written, inside in value.items():
            name = next((name for name in names if plain(name) == plain(written)), None)
            if name is None:
                self.fault((*path, written), f"is not known{self.meant(written, names)}")
            elif name in kept:
                self.fault((*path, written), f"'{name}' stands there twice; take one out")
            else:
                kept[name] = inside
        return kept

    def number(self, value: object, key: Key, path: Path) -> float | None:
        """Return a number within its limits, None if it cannot be used."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.fault(path, f"must be a number, not {_shown(value)}{_as_number(value)}")
            return None
        if isinstance(value, float) and not math.isfinite(value):
            self.fault(path, f"must be a number, not {value}; write it in figures")
            return None
        low = value > key.least if key.over_least else value >= key.least
        if low and value <= key.most:
            return float(value)
        least = f"more than {key.least:.10g}" if key.over_least else f"{key.least:.10g} or more"
        most = f", and {key.most:.10g} at most" if math.isfinite(key.most) else ""
        percent = (
            f"; for {value:g} per cent write percent = {value:g}" if key.name == "share" and 1 < value <= 100 else ""
        )
        self.fault(path, f"is {_shown(value)}; it must be {least}{most}{percent}")
        return None

    def word(self, written: str, allowed: Mapping[str, object] | Collection[str], path: Path, what: str) -> str | None:
        """Return the allowed word that was written, whatever its case; None with a fault if it is none of them."""
        found = next((word for word in allowed if plain(word) == plain(written)), None)
        if found is None:
            self.fault(path, f"'{_short(written)}' is no {what}{self.meant(written, allowed)}")
        return found

    @staticmethod
    def meant(written: str, known: Iterable[str]) -> str:
        """Return the nearest known word as a question, else all of them, to be put behind a message."""
        words = {plain(word): word for word in known}
        near = difflib.get_close_matches(plain(written)[:80], words, n=1, cutoff=0.6)
        if near:
            return f"; did you mean {words[near[0]]}?"
        return f"; there are {', '.join(words.values())}" if words else ""

    def _value(self, value: object, key: Key, path: Path) -> object | None:
        if key.or_none and isinstance(value, str) and plain(value) == "none":
            return "none"
        take: dict[Holds, Callable[[object, Key, Path], object | None]] = {
            Holds.TEXT: self._text,
            Holds.NUMBER: self.number,
            Holds.WHOLE: self._whole,
            Holds.YES_NO: self._yes_no,
            Holds.NUMBERS: self._numbers,
            Holds.MONTHS: self._months,
            Holds.TABLE: lambda value, _key, _path: value,
            Holds.TABLES: lambda value, _key, _path: value,
        }
        return take[key.holds](value, key, path)

    def _text(self, value: object, _key: Key, path: Path) -> str | None:
        if not isinstance(value, str):
            self.fault(path, f"must be a text in quotes, not {_shown(value)}")
            return None
        if len(value) > LONGEST_TEXT:
            self.fault(path, f"has {len(value)} letters; {LONGEST_TEXT} at most")
            return None
        text = on_one_line(value).strip()
        if not_printed(text):
            self.fault(path, f"holds {not_printed(text)}, a character that cannot be printed; take it out")
            return None
        return text

    def _yes_no(self, value: object, _key: Key, path: Path) -> bool | None:
        if not isinstance(value, bool):
            self.fault(path, f"must be true or false, without quotes, not {_shown(value)}")
            return None
        return value

    def _whole(self, value: object, key: Key, path: Path) -> int | None:
        number = self.number(value, key, path)
        if number is None:
            return None
        if number != int(number):
            self.fault(path, f"is {number:g}; it must be a whole number")
            return None
        return int(number)

    def _list(self, value: object, path: Path) -> list[object] | None:
        if not isinstance(value, list):
            self.fault(path, f"must be a list in square brackets, not {_shown(value)}")
            return None
        if len(value) > MOST_IN_LIST:
            self.fault(path, f"has {len(value)} entries; {MOST_IN_LIST} at most")
            return None
        return value

    def _numbers(self, value: object, key: Key, path: Path) -> tuple[float, ...] | None:
        inside = self._list(value, path)
        if inside is None:
            return None
        taken = [self.number(one, key, (*path, place)) for place, one in enumerate(inside)]
        sound = tuple(number for number in taken if number is not None)
        return sound if len(sound) == len(taken) else None

    def _months(self, value: object, _key: Key, path: Path) -> tuple[int, ...] | None:
        inside = self._list(value, path)
        if inside is None:
            return None
        taken = [self._month(one, (*path, place)) for place, one in enumerate(inside)]
        sound = tuple(month for month in taken if month is not None)
        if len(sound) < len(taken):
            return None
        twice = next((month for month in sound if sound.count(month) > 1), None)
        if twice is not None:
            self.fault(path, f"{MONTHS[twice - 1]} stands there twice; take one out")
            return None
        return sound

    def _month(self, value: object, path: Path) -> int | None:
        if isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= 12:
            return value
        if isinstance(value, str) and len(plain(value)) >= 3:
            found = [n for n, month in enumerate(MONTHS, 1) if month.lower().startswith(plain(value))]
            if len(found) == 1:
                return found[0]
        self.fault(path, f'{_shown(value)} is no month; write 1 to 12, or names like "June" or "Jun"')
        return None


def _short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:60]}…"


def _shown(value: object) -> str:
    """Return what was written, as a message shows it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'the text "{_short(value)}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, int) and abs(value) >= 10**15:
        return "a number of very many figures"
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def _as_number(value: object) -> str:
    """Return a hint where a number was written as a text."""
    if isinstance(value, str):
        text = value.strip().rstrip("%m $").replace(",", ".")
        try:
            number = float(text)
        except ValueError:
            return ""
        if math.isfinite(number):
            return f"; write {number:g}, without quotes or unit"
    return ""
