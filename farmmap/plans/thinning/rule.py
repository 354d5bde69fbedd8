"""What is to be thinned and how far, in the grower's words and numbers."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from farmmap.errors import BadInput

NO_RULE = "none"
FROM_BELOW = "below"
BY_RADIUS = "release-radius"
BY_CONTACT = "release-contact"
TO_BASAL_AREA = "basal-area"
TO_STOCKING = "stocking"
BY_ROWS = "rows"

RULES: Mapping[str, str] = MappingProxyType(
    {
        FROM_BELOW: "From below: the thinnest stems first",
        BY_RADIUS: "Free each crop tree within a radius",
        BY_CONTACT: "Free each crop tree of the crowns that touch it",
        TO_BASAL_AREA: "Down to a basal area",
        TO_STOCKING: "Down to a stocking",
        BY_ROWS: "Every n-th planted row",
        NO_RULE: "Choose crop trees only",
    }
)
"""Names of the rules, and what each does."""

NUMBERS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        FROM_BELOW: ("percent", "under_cm"),
        BY_RADIUS: ("radius_m", "least_share_percent"),
        BY_CONTACT: ("gap_m", "least_share_percent"),
        TO_BASAL_AREA: ("basal_area_m2_per_ha",),
        TO_STOCKING: ("stems_per_ha",),
        BY_ROWS: ("every", "first_row"),
        NO_RULE: (),
    }
)
"""Numbers that each rule reads; all others are passed over."""


@dataclass(frozen=True)
class Limit:
    """What a number of a rule may be."""

    words: str
    unit: str
    least: float
    most: float


LIMITS: Mapping[str, Limit] = MappingProxyType(
    {
        "percent": Limit("share of the stems to take out", "%", 0.0, 100.0),
        "under_cm": Limit("take stems thinner than", "cm", 0.0, 400.0),
        "radius_m": Limit("radius to free around each crop tree", "m", 0.1, 50.0),
        "least_share_percent": Limit("leave neighbours thinner than this share of the crop tree", "%", 0.0, 100.0),
        "gap_m": Limit("room to open beyond the crown", "m", -5.0, 20.0),
        "basal_area_m2_per_ha": Limit("basal area to leave", "m²/ha", 0.0, 500.0),
        "stems_per_ha": Limit("stems to leave", "stems/ha", 0.0, 100_000.0),
        "every": Limit("take every so many rows", "rows", 2.0, 50.0),
        "first_row": Limit("first row to take", "", 1.0, 50.0),
        "caution_percent": Limit("share of the basal area from which a caution is said", "%", 0.0, 100.0),
    }
)
"""Words, unit, least and most of every number of a rule."""


@dataclass(frozen=True)
class ThinningRule:
    """A rule for what goes now. Crop trees never go.

    Attributes
    ----------
    kind : str
        One of `RULES`.
    percent : float
        From below: share of the stems to take out. [%]
    under_cm : float or None
        From below: take all stems thinner than this instead. [cm]
    radius_m : float or None
        Release by radius: free each crop tree so far; None for half the crown that it will have at its target. [m]
    least_share_percent : float
        Release: neighbours thinner than this share of the crop tree's diameter are left, as they hold it back little.
        [%]
    gap_m : float
        Release by contact: crowns nearer than this go as well; 0 for those that touch. [m]
    basal_area_m2_per_ha : float
        Basal area to leave. [m²/ha]
    stems_per_ha : float or None
        Stems to leave; None for the final stocking. [/ha]
    every, first_row : int
        Rows: every n-th, from this one on, counted from the west (from the south if rows run east to west).
    caution_percent : float
        A caution is said if more of the basal area goes at once. [%]
    """

    kind: str = FROM_BELOW
    percent: float = 30.0
    under_cm: float | None = None
    radius_m: float | None = None
    least_share_percent: float = 0.0
    gap_m: float = 0.0
    basal_area_m2_per_ha: float = 20.0
    stems_per_ha: float | None = None
    every: int = 5
    first_row: int = 3
    caution_percent: float = 35.0

    def __post_init__(self) -> None:
        """Refuse a rule or numbers that nothing could be taken out by."""
        if self.kind not in RULES:
            raise BadInput(f"there is no rule '{self.kind}' for thinning; there are {', '.join(RULES)}")
        for name in (*NUMBERS[self.kind], "caution_percent"):
            value, limit = getattr(self, name), LIMITS[name]
            if value is not None and not (math.isfinite(value) and limit.least <= value <= limit.most):
                unit = f" {limit.unit}" if limit.unit else ""
                raise BadInput(f"{limit.words}: {value:g} is not between {limit.least:g} and {limit.most:g}{unit}")


@dataclass(frozen=True)
class CropRule:
    """How crop trees are chosen.

    Attributes
    ----------
    target_cm : float or None
        Diameter at which the crop is ready; None for the farm's own targets by species. [cm]
    stems_per_ha : float or None
        Final stocking; None for that which target diameter and crown width give. [/ha]
    least_m : float or None
        Least distance between crop trees; None for that which the final stocking gives. [ground m]
    weights : mapping of str to float
        What counts how much, by key of `farmmap.plans.thinning.worth.usual_weights`; those not given are as usual.
    species : mapping of str to float
        How much a species is wanted, 0 to 1, by its code; 0 is never chosen. Those not given: 1, or 0.5 where the farm
        has targets of its own and none for it.
    keep_marked : bool
        Whether trees that are marked as crop already stay crop.
    """

    target_cm: float | None = None
    stems_per_ha: float | None = None
    least_m: float | None = None
    weights: Mapping[str, float] = field(default_factory=dict)
    species: Mapping[str, float] = field(default_factory=dict)
    keep_marked: bool = True

    def __post_init__(self) -> None:
        """Refuse numbers that no crop could be chosen by."""
        for name, least, most, words in (
            ("target_cm", 1.0, 400.0, "target diameter, in cm"),
            ("stems_per_ha", 0.1, 100_000.0, "final stocking, in stems/ha"),
            ("least_m", 0.0, 100.0, "least distance between crop trees, in m"),
        ):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and least <= value <= most):
                raise BadInput(f"{words}: {value:g} is not between {least:g} and {most:g}")
        for code, value in self.species.items():
            if not 0.0 <= value <= 1.0:
                raise BadInput(f"how much species {code} is wanted is 0 to 1, not {value:g}")


def rule_words(rule: ThinningRule) -> str:
    """Return a rule and its numbers in a line."""
    below = f"{rule.percent:g} % of the stems" if rule.under_cm is None else f"stems thinner than {rule.under_cm:g} cm"
    within = "half the crown of its target" if rule.radius_m is None else f"{rule.radius_m:g} m"
    near = f" or come within {rule.gap_m:g} m" if rule.gap_m else ""
    left = "the final stocking" if rule.stems_per_ha is None else f"{rule.stems_per_ha:g} stems/ha"
    return {
        FROM_BELOW: f"from below, {below}",
        BY_RADIUS: f"free each crop tree within {within}",
        BY_CONTACT: f"free each crop tree of crowns that touch it{near}",
        TO_BASAL_AREA: f"down to {rule.basal_area_m2_per_ha:g} m²/ha",
        TO_STOCKING: f"down to {left}",
        BY_ROWS: f"one planted row in {rule.every}, from row {rule.first_row} on",
        NO_RULE: "crop trees only",
    }[rule.kind]
