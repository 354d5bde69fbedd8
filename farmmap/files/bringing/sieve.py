"""Which rows of a source are good, and why the others are not."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from farmmap.files.sources.source import BadRow, Source


class Sieve:
    """Keeps for every row of a source whether it is good; the first reason against a row stands.

    Parameters
    ----------
    source : Source
        The rows.
    """

    def __init__(self, source: Source) -> None:
        self._source = source
        self._reasons: dict[int, str] = {}
        self.good = np.ones(len(source.rows), bool)
        """Rows that nothing speaks against so far; bool, shape (n,)."""

    def refuse(self, rows: np.ndarray, reason: str | Callable[[int], str]) -> None:
        """Set rows aside.

        Parameters
        ----------
        rows : ndarray of bool, shape (n,)
            Which.
        reason : str or callable
            Why; a callable is asked once for each row, with its position.
        """
        for position in np.flatnonzero(rows & self.good).tolist():
            self._reasons[position] = reason if isinstance(reason, str) else reason(position)
        self.good &= ~rows

    def refuse_at(self, positions: np.ndarray | Sequence[int], reason: str | Callable[[int], str]) -> None:
        """Set aside the rows at these positions."""
        rows = np.zeros(len(self.good), bool)
        rows[np.asarray(positions, np.int64)] = True
        self.refuse(rows, reason)

    def bad_rows(self) -> list[BadRow]:
        """Return the rows that were set aside, those of the reader among them, in the order of the file."""
        raw = self._source.raw(list(self._reasons))
        own = [
            BadRow(self.row_number(position), reason, row)
            for (position, reason), row in zip(self._reasons.items(), raw, strict=True)
        ]
        return sorted([*self._source.bad, *own], key=lambda row: row.row_number)

    def row_number(self, position: int) -> int:
        """Return where in the file a row stands."""
        return int(self._source.row_numbers[position])
