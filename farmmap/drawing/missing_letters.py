"""What cannot be written for want of a typeface, in words for the person who prints."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

from farmmap.drawing.fonts import STAND_IN, lacking, letters

_KINDS = {
    "CJK": "Chinese",
    "HIRAGANA": "Japanese",
    "KATAKANA": "Japanese",
    "HANGUL": "Korean",
    "DEVANAGARI": "Hindi",
}
"""What people call letters whose names in Unicode begin otherwise."""

_PICTURES = (0x1F000, 0x1FAFF)
_SIGNS = "signs"
_EMOJI = "picture signs (emoji)"
_FOUND_IN = {
    "Chinese": "Noto Sans CJK",
    "Japanese": "Noto Sans CJK",
    "Korean": "Noto Sans CJK",
    _EMOJI: "Noto Emoji",
    _SIGNS: "DejaVu Sans",
}
_MOST_NAMES = 3
_LONG = 40


def missing_letters(texts: Iterable[str]) -> dict[str, str]:
    """Return the letters that no typeface of this computer has, by what they are.

    Parameters
    ----------
    texts : iterable of str
        What is to be written.

    Returns
    -------
    dict of str to str
        Kind of letter in plain words, such as ``Chinese``, to the letters of it, each once.
    """
    found: dict[str, dict[str, None]] = {}
    for text in dict.fromkeys(texts):
        if not text.isascii():
            for letter in letters(text):
                if lacking(letter):
                    found.setdefault(_kind(letter[0]), {})[letter] = None
    return {kind: "".join(those) for kind, those in found.items()}


def missing_words(texts: Iterable[str]) -> str:
    """Return a sentence that says which names cannot be written in full, and what to do; "" if all can be.

    Parameters
    ----------
    texts : iterable of str
        What is to be written.
    """
    texts = [*dict.fromkeys(texts)]
    missing = missing_letters(texts)
    if not missing:
        return ""
    kinds = _listed([kind if kind in {_EMOJI, _SIGNS} else f"{kind} letters" for kind in missing], "or")
    names = [_short(text) for text in texts if missing_letters((text,))]
    more = len(names) - _MOST_NAMES
    said = _listed([*names[:_MOST_NAMES], *([f"{more} more"] if more > 0 else [])], "and")
    fonts = _listed([*dict.fromkeys(_FOUND_IN.get(kind, "Noto Sans") for kind in missing)], "or")
    return (
        f"This computer has no typeface with {kinds}, so a {STAND_IN} stands for each of them in {said}; install one "
        f"that has them, such as {fonts}, or write the name in other letters"
    )


def _kind(letter: str) -> str:
    """Return what people call letters of this kind."""
    if _PICTURES[0] <= ord(letter) <= _PICTURES[1]:
        return _EMOJI
    name = unicodedata.name(letter, "").split(" ")[0]
    if not unicodedata.category(letter).startswith("L") or not name:
        return _SIGNS
    return _KINDS.get(name, name.title())


def _short(text: str) -> str:
    """Return a name between quotation marks, cut where it is very long."""
    line = " ".join(text.split())
    return f"“{line if len(line) <= _LONG else line[: _LONG - 1].rstrip() + '…'}”"


def _listed(words: list[str], last: str) -> str:
    return f"{', '.join(words[:-1])} {last} {words[-1]}" if len(words) > 1 else words[0]
