"""Texts of one line that can be printed: no line breaks or control characters, nothing that turns writing round."""

from __future__ import annotations

import re

from farmmap.errors import BadInput

_BREAKS = re.compile(r"[ ]*[\t\n\v\f\r\x85\u2028\u2029]+[ ]*")
_NOT_PRINTED = re.compile(r"[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufeff\ufffe\uffff]")


def on_one_line(text: str) -> str:
    """Return a text with a blank for each line break and tab."""
    return _BREAKS.sub(" ", text)


def not_printed(text: str) -> str:
    """Return the first character that no page prints, such as ``U+0007``; "" if there is none."""
    found = _NOT_PRINTED.search(text)
    return f"U+{ord(found.group()):04X}" if found else ""


def printable(text: str, instead: str = "") -> str:
    """Return a text on one line, with something else for what no page prints."""
    return _NOT_PRINTED.sub(instead, on_one_line(text))


def refuse_not_printed(text: str, what: str) -> None:
    """Refuse a text that holds what no page prints, line breaks among it.

    Raises
    ------
    BadInput
        It does; the message names the character.
    """
    found = "a line break or a tab" if on_one_line(text) != text else not_printed(text)
    if found:
        raise BadInput(f"{what} holds {found}, which cannot be printed; take it out")
