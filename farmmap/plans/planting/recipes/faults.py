"""What is wrong with a recipe: every fault with its line, its key, why, and what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from farmmap.errors import BadInput

_MOST_TOLD = 40


@dataclass(frozen=True)
class Fault:
    """One thing to be mended.

    Attributes
    ----------
    line : int
        Line of the file; 0 where it concerns the whole file.
    key : str
        What it is about, for people: ``zone 2 'Bank', plant 1, species``; "" for the whole file.
    why : str
        What is wrong, and what to do.
    """

    line: int
    key: str
    why: str

    @property
    def words(self) -> str:
        """The fault as one line for people."""
        where = f"line {self.line}" if self.line else ""
        return ": ".join(part for part in (", ".join(part for part in (where, self.key) if part), self.why) if part)


class RecipeError(BadInput):
    """A recipe that cannot be used; the message lists all that is to be mended.

    Attributes
    ----------
    where : str
        Name of the file.
    faults : tuple of Fault
        By line.
    """

    def __init__(self, where: str, faults: Iterable[Fault]) -> None:
        self.where = where
        self.faults = tuple(sorted(dict.fromkeys(faults), key=lambda fault: fault.line))
        told = [f"  {fault.words}" for fault in self.faults[:_MOST_TOLD]]
        if len(self.faults) > _MOST_TOLD:
            told.append(f"  and {len(self.faults) - _MOST_TOLD} more")
        many = "one thing is" if len(self.faults) == 1 else f"{len(self.faults)} things are"
        super().__init__("\n".join([f"the recipe {where} cannot be used; {many} to be mended:", *told]))
