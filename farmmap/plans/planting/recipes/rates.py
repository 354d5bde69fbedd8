"""What a planting's costs are counted by: kinds of cost, and the units that a rate may be given for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

KINDS = ("plants", "guards", "fence", "water", "work")
"""Kinds of cost, in the order in which they are shown."""


@dataclass(frozen=True)
class Unit:
    """Something that a rate may be given for.

    Attributes
    ----------
    words : str
        What is paid for.
    unit : str
        What it is counted in.
    kind : str
        One of `KINDS`.
    places : int
        Decimals to which the quantity is rounded before it is multiplied.
    instead : tuple of str
        Rates that pay for the same in another way; if one of them is given, this one is not missed.
    by_choice : bool
        Not every grower does it, so it is never missed.
    """

    words: str
    unit: str
    kind: str
    places: int = 0
    instead: tuple[str, ...] = ()
    by_choice: bool = False


UNITS: Mapping[str, Unit] = MappingProxyType(
    {
        "guard": Unit("guards", "each", "guards"),
        "stake": Unit("stakes", "each", "guards"),
        "mat": Unit("mats", "each", "guards"),
        "fence_m": Unit("fence, built", "m", "fence", 1, ("strainer", "post", "batten", "wire_m")),
        "strainer": Unit("strainer posts", "each", "fence", instead=("fence_m",)),
        "post": Unit("posts", "each", "fence", instead=("fence_m",)),
        "batten": Unit("battens", "each", "fence", instead=("fence_m",)),
        "wire_m": Unit("wire", "m", "fence", 1, ("fence_m",)),
        "gate": Unit("gates", "each", "fence"),
        "floodgate": Unit("floodgates", "each", "fence"),
        "floodway_m": Unit("flood-prone fence, over and above", "m", "fence", 1, by_choice=True),
        "trough": Unit("troughs", "each", "water"),
        "prepare_ha": Unit("preparing the ground", "ha", "work", 3, by_choice=True),
        "spot": Unit("preparing spots", "each", "work", by_choice=True),
        "plant": Unit("planting, with losses", "each", "work", instead=("hour",)),
        "hour": Unit("planting, with losses", "h", "work", 1, ("plant",)),
        "release": Unit("keeping plants free of weeds", "each", "work", by_choice=True),
    }
)
"""What rates may be given for, by the names that a recipe uses; plants have prices of their own."""
