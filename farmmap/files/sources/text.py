"""Bytes to text: which encoding a file is in."""

from __future__ import annotations

import codecs
from pathlib import Path

from farmmap.errors import BadInput


def decoded(content: bytes, path: Path) -> tuple[str, str]:
    """Return the text in ``content``, and what its encoding is called.

    A byte order mark decides; else UTF-16 if every other byte is nought, UTF-8
    if it is valid, and Windows-1252 if not.

    Raises
    ------
    BadInput
        It is no text.
    """
    for mark, name in (
        (codecs.BOM_UTF8, "utf-8"),
        (codecs.BOM_UTF16_LE, "utf-16-le"),
        (codecs.BOM_UTF16_BE, "utf-16-be"),
    ):
        if content.startswith(mark):
            return _checked(content[len(mark) :].decode(name, "replace"), path), name
    utf16 = _utf16_without_mark(content)
    if utf16:
        return _checked(content.decode(utf16, "replace"), path), utf16
    try:
        return _checked(content.decode("utf-8"), path), "utf-8"
    except UnicodeDecodeError:
        return _checked(content.decode("cp1252", "replace"), path), "Windows-1252"


def _utf16_without_mark(content: bytes) -> str:
    start = content[:2000]
    if len(start) < 4 or b"\0" not in start:
        return ""
    even, odd = start[0::2].count(0) / len(start[0::2]), start[1::2].count(0) / max(len(start[1::2]), 1)
    if odd > 0.7 and even < 0.1:
        return "utf-16-le"
    return "utf-16-be" if even > 0.7 and odd < 0.1 else ""


def _checked(text: str, path: Path) -> str:
    start = text[:20000]
    odd = sum(1 for letter in set(start) if ord(letter) < 32 and letter not in "\t\r\n\f\v")
    if "\0" in text or odd > 3:
        raise BadInput(f"{path.name} is not text but something only a program can read; bring a CSV, GPX, KML or so")
    return text
