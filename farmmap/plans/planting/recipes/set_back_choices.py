"""Published distances that plants may keep from things, as data to choose from, and where the defaults come from."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache

from farmmap.resource_files import resource_path


@dataclass(frozen=True)
class SetBackChoice:
    """One published distance.

    Attributes
    ----------
    thing : str
        What it is kept from: ``fence``, ``power_line``, ``pipeline``, ``building``.
    choice : str
        Its name, as a recipe gives it.
    distance_m : float
        On the level. [m]
    place, source, year, remark : str
        Where it holds, who published it, when ("" if not told), and what to mind.
    """

    thing: str
    choice: str
    distance_m: float
    place: str
    source: str
    year: str
    remark: str

    @property
    def told(self) -> str:
        """Where it comes from and what to mind, in one line."""
        place = f"{self.place} {self.year}".strip()
        return f"{self.choice}: {self.source} ({place}); {self.remark}; check your local code"


@cache
def set_back_choices() -> tuple[SetBackChoice, ...]:
    """Return the distances of ``resources/set_backs.csv``."""
    with resource_path("set_backs.csv").open(encoding="utf-8", newline="") as file:
        return tuple(
            SetBackChoice(
                row["thing"],
                row["choice"],
                float(row["distance_m"]),
                row["place"],
                row["source"],
                row["year"],
                row["remark"],
            )
            for row in csv.DictReader(file)
        )


@cache
def default_sources() -> dict[str, str]:
    """Return where the set-backs come from that hold if a recipe says nothing, by attribute of `SetBacks`."""
    fence = next(choice for choice in set_back_choices() if (choice.thing, choice.choice) == ("fence", "grass strip"))
    return {
        "crown_m": "plants keep out from under crowns that stand there, no further",
        "fence_m": fence.told,
        "track_m": "common practice, no source: half a machine and its swing",
    }
