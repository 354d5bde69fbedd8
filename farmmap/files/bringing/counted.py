"""Numbers of things in words, so that one row has and two rows have."""

from __future__ import annotations

from collections.abc import Sequence

NAMED_ROWS = 5
"""Row numbers named one by one at most."""


def counted(count: int, one: str, many: str) -> str:
    """Return the number with the words that go with it: ``1 row has``, ``2 rows have``."""
    return f"{int(count)} {one if count == 1 else many}"


def rows_named(numbers: Sequence[int], count: int | None = None) -> str:
    """Return ``row 3``, ``rows 3 and 4``, or the first few of ``count`` (as many as there are numbers, if left out)."""
    first = [str(number) for number in numbers[:NAMED_ROWS]]
    more = (len(numbers) if count is None else count) - len(first)
    if more:
        return f"rows {', '.join(first)} and {more} more"
    if len(first) == 1:
        return f"row {first[0]}"
    return f"rows {', '.join(first[:-1])} and {first[-1]}"
