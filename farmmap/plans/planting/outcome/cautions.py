"""What the grower should know or check, each once and the weightiest first.

The parts of a planting speak each for itself: a width by rule, a drain and a
boundary all bid the grower check the local code. Together they say it once.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from farmmap.plans.planting.make import GUIDANCE
from farmmap.plans.planting.places.clearings import WORDS

CHECK = "check your local code"
DIFFERS = "what is asked for differs from place to place"

_FIRST = (
    GUIDANCE,
    *(WORDS[kind].partition("{")[0] for kind in ("power line", "pipeline")),
    "Trees that stand there stay",
    "Some of those crowns",  # those of the trees
)
"""How the notes begin that go before all others: the law, what may kill, and what may be protected."""

_SAID = (
    (re.compile(f"[:;,] {CHECK}, and "), "; "),
    (re.compile(f"{CHECK} before"), "ask before"),
    (re.compile(f"[:;,] {CHECK}(?=[.;])"), ""),
)
_DIFFERS = re.compile(f"[:;] {DIFFERS}")


def said_once(notes: Iterable[str]) -> tuple[str, ...]:
    """Return notes in the order of their weight, none twice, and what many of them ask for in the first only.

    Parameters
    ----------
    notes : iterable of str
        What the parts of a planting say; those of like weight stay in their order.
    """
    found: list[str] = []
    for note in sorted(dict.fromkeys(notes), key=_weight):
        said = note
        if any(CHECK in other.lower() for other in found):
            for pattern, instead in _SAID:
                said = pattern.sub(instead, said)
        if any(DIFFERS in other for other in found):
            said = _DIFFERS.sub("", said)
        found.append(said)
    return tuple(found)


def _weight(note: str) -> int:
    return next((place for place, words in enumerate(_FIRST) if note.startswith(words)), len(_FIRST))
