"""What can be undone and redone, over the whole session."""

from __future__ import annotations

from farmmap.farm.edits import Edit


class History:
    """Edits that were carried out, in their order, and how far back one has gone.

    Nothing moves here until a change is in the file: `undo` and `redo` only
    say what is to be carried out, and `done_undo` and `done_redo` are called
    when it was. A write that fails leaves the history as it was.
    """

    def __init__(self) -> None:
        self._done: list[Edit] = []
        self._undone: list[Edit] = []

    def __len__(self) -> int:
        return len(self._done)

    def record(self, edit: Edit) -> None:
        """Remember an edit that was carried out; what was undone before can no longer be redone."""
        self._done.append(edit)
        self._undone.clear()

    def undo(self) -> Edit | None:
        """Return the edit that takes the last one back, None if there is none; nothing moves yet."""
        return self._done[-1].turned_round() if self._done else None

    def redo(self) -> Edit | None:
        """Return the edit that was undone last, None if there is none; nothing moves yet."""
        return self._undone[-1] if self._undone else None

    def done_undo(self) -> None:
        """Note that what `undo` gave was carried out."""
        if self._done:
            self._undone.append(self._done.pop())

    def done_redo(self) -> None:
        """Note that what `redo` gave was carried out."""
        if self._undone:
            self._done.append(self._undone.pop())

    def clear(self) -> None:
        """Forget all, as when another farm is opened."""
        self._done.clear()
        self._undone.clear()

    @property
    def undo_name(self) -> str:
        """What would be undone, "" if nothing can be."""
        return self._done[-1].name if self._done else ""

    @property
    def redo_name(self) -> str:
        """What would be redone, "" if nothing can be."""
        return self._undone[-1].name if self._undone else ""

    @property
    def names(self) -> tuple[str, ...]:
        """What was done, the last first."""
        return tuple(edit.name for edit in reversed(self._done))
