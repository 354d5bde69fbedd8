"""Words of edits, notes and errors as sentences."""

from __future__ import annotations

ENDS = (".", ":", "?", "…")


def sentence(words: str) -> str:
    """Return words with a capital and a full stop; "" stays so."""
    if not words:
        return ""
    return words[:1].upper() + words[1:] + ("" if words.endswith(ENDS) else ".")
