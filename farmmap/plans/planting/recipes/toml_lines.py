"""On which line of a TOML text each key and each value stands.

The standard library's reader tells values, not lines. This walks over a text
that it has read already, so it need not check anything: it only tells keys,
strings, arrays and inline tables apart.
"""

from __future__ import annotations

import re
import tomllib

Path = tuple[str | int, ...]
"""Keys and, within arrays, places from 0: ``("zone", 0, "plant", 1, "share")``."""

_BLANK = re.compile(r"[ \t\n]*(?:#[^\n]*\n?[ \t\n]*)*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_DOT = re.compile(r"[ \t]*\.[ \t]*")
_SCALAR = re.compile(r"[^,\]}\n#]*")
_STRINGS = (
    re.compile(r'"""(?:[^"\\]++|\\.|"{1,2}(?!"))*"{3,5}', re.DOTALL),
    re.compile(r"'''(?:[^']++|'{1,2}(?!'))*'{3,5}", re.DOTALL),
    re.compile(r'"(?:[^"\\\n]++|\\.)*"'),
    re.compile(r"'[^'\n]*'"),
)


def key_lines(text: str) -> dict[Path, int]:
    """Return the line of each key, table and element of an array, from 1.

    Parameters
    ----------
    text : str
        TOML that `tomllib` reads.
    """
    return _Walk(text.replace("\r\n", "\n")).lines


class _Walk:
    """One walk over a text, from its beginning to its end."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._at = 0
        self._line = 1
        self._counted = 0
        self._tables: dict[Path, int] = {}  # how many tables an array of tables holds so far
        self.lines: dict[Path, int] = {}
        table: Path = ()
        while True:
            self._skip()
            if self._at >= len(text):
                return
            if text[self._at] == "[":
                table = self._header()
            else:
                self._pair(table)

    def _skip(self) -> None:
        """Go past blanks, ends of lines and comments."""
        found = _BLANK.match(self._text, self._at)
        assert found is not None  # it matches nothing as well
        self._at = found.end()

    def _line_here(self) -> int:
        self._line += self._text.count("\n", self._counted, self._at)
        self._counted = self._at
        return self._line

    def _note(self, path: Path) -> None:
        line = self._line_here()
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], line)

    def _header(self) -> Path:
        of_array = self._text.startswith("[[", self._at)
        line = self._line_here()
        self._at += 2 if of_array else 1
        self._blanks()
        keys = self._keys()
        self._blanks()
        self._at += 2 if of_array else 1
        path: Path = ()
        for number, key in enumerate(keys):
            path = (*path, key)
            if of_array and number == len(keys) - 1:
                self.lines.setdefault(path, line)
                self._tables[path] = self._tables.get(path, 0) + 1
            if path in self._tables:
                path = (*path, self._tables[path] - 1)
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], line)
        return path

    def _blanks(self) -> None:
        while self._text[self._at] in " \t":
            self._at += 1

    def _keys(self) -> list[str]:
        keys = []
        while True:
            if self._text[self._at] in "\"'":
                keys.append(self._quoted_key())
            else:
                found = _BARE.match(self._text, self._at)
                assert found is not None  # tomllib has read it
                keys.append(found.group())
                self._at = found.end()
            dot = _DOT.match(self._text, self._at)
            if dot is None:
                return keys
            self._at = dot.end()

    def _quoted_key(self) -> str:
        start = self._at
        self._string()
        written = self._text[start : self._at]
        return written[1:-1] if written[0] == "'" or "\\" not in written else _unescaped(written)

    def _pair(self, table: Path) -> None:
        start = self._at
        path = (*table, *self._keys())
        end, self._at = self._at, start
        self._note(path)
        self._at = self._text.index("=", end) + 1
        self._value(path)

    def _value(self, path: Path) -> None:
        self._skip()
        first = self._text[self._at]
        if first in "\"'":
            self._string()
        elif first in "[{":
            self._within(path, first)
        else:
            found = _SCALAR.match(self._text, self._at)
            assert found is not None  # it matches nothing as well
            self._at = found.end()

    def _within(self, path: Path, first: str) -> None:
        """Go past an array or an inline table."""
        self._at += 1
        place = 0
        while True:
            self._skip()
            if self._text[self._at] in "]}":
                self._at += 1
                return
            if self._text[self._at] == ",":
                self._at += 1
            elif first == "[":
                self._note((*path, place))
                self._value((*path, place))
                place += 1
            else:
                self._pair(path)

    def _string(self) -> None:
        for pattern in _STRINGS:
            found = pattern.match(self._text, self._at)
            if found is not None:
                self._at = found.end()
                return
        raise AssertionError("tomllib reads no such string")


def _unescaped(written: str) -> str:
    """Return a quoted key as it is meant, escapes resolved."""
    return str(tomllib.loads(f"key = {written}")["key"])
