"""Where a line of a rule holds: limits in words (``over 1``, ``from 3 up to 10``) as a test on numbers."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.errors import BadInput


@dataclass(frozen=True)
class Span:
    """Numbers between two limits.

    Attributes
    ----------
    low, high : float
        The limits, infinite where there is none.
    with_low, with_high : bool
        Whether the limit itself belongs to it.
    """

    low: float = -math.inf
    high: float = math.inf
    with_low: bool = True
    with_high: bool = True

    def holds(self, values: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Whether each value lies within; False for nan."""
        above = values >= self.low if self.with_low else values > self.low
        below = values <= self.high if self.with_high else values < self.high
        return above & below

    @property
    def words(self) -> str:
        """The limits as `span_from_words` reads them: ``from 3 under 10``; "" for `ANY`."""
        low = "" if math.isinf(self.low) else f"{'from' if self.with_low else 'over'} {_short(self.low)}"
        high = "" if math.isinf(self.high) else f"{'up to' if self.with_high else 'under'} {_short(self.high)}"
        return f"{low} {high}".strip()


ANY = Span()

_WORDS = re.compile(r"(?:(over|from)\s+(\S+))?\s*(?:(under|up\s+to)\s+(\S+))?", re.IGNORECASE)


def span_from_words(text: str, column: str) -> Span:
    """Return the limits that were written; `ANY` for nothing written.

    Parameters
    ----------
    text : str
        ``over 3``, ``from 3`` (with 3), ``under 10``, ``up to 10`` (with 10), or one of the first two and one of
        the last two.
    column : str
        Where it was written, for the message.

    Raises
    ------
    BadInput
        It was written in another way, a limit is no number, or nothing lies between the limits.
    """
    found = _WORDS.fullmatch(text.strip())
    if found is None:
        raise BadInput(f"{column} is '{text}'; write 'over 3', 'from 3', 'under 10', 'up to 10' or 'from 3 up to 10'")
    low_word, low, high_word, high = found.groups()
    span = Span(
        _limit(low, column) if low else -math.inf,
        _limit(high, column) if high else math.inf,
        (low_word or "from").lower() == "from",
        (high_word or "up to").lower() != "under",
    )
    if span.low > span.high or (span.low == span.high and not (span.with_low and span.with_high)):
        raise BadInput(f"{column} is '{text}'; nothing lies between those limits")
    return span


def _short(limit: float) -> str:
    """Return a limit in as few figures as give it back."""
    return f"{limit:g}" if float(f"{limit:g}") == limit else repr(limit)


def _limit(word: str, column: str) -> float:
    try:
        value = float(word)
    except ValueError:
        raise BadInput(f"{column}: '{word}' is not a number; write it with a point, like 4.5") from None
    if not math.isfinite(value) or value < 0:
        raise BadInput(f"{column}: a limit of {word} cannot be used; give a number from 0 up")
    return value
