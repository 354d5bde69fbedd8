"""A planting as it stands in the box: where, how, and what is wrong with it before anything is worked out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from farmmap.farm.species import plain
from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.recipes.recipe import Kin, Pattern, PlantKind, Recipe, Share, WidthRule, Zone

BOTH = ("left", "right")
SHARE_KINDS = (
    ("plants", "plants"),
    ("guards", "guards, stakes, mats"),
    ("fence", "fence"),
    ("water", "stock water"),
    ("work", "work"),
    ("", "everything else"),
)
"""Kinds of costs that a grant may pay a share of, in words."""
PART_OF_PERCENT = 0.05
"""Shares that add up to 100 % within this are taken to. [%]"""

BLANK = Recipe(
    "New planting",
    (WidthRule(width_m=10.0),),
    (Zone("Whole margin", share=1.0, pattern=Pattern.ROWS, between_m=2.0, within_m=1.5),),
)
"""What there is before a recipe was read: ten metres, nothing chosen to grow there."""


@dataclass(frozen=True)
class Draft:
    """What a grower has said so far.

    Attributes
    ----------
    recipe : Recipe
        How wide, what grows where, fence, rates.
    creek : str
        Name of the creek, "" while none is chosen.
    banks : tuple of str
        ``left``, ``right`` or both, looking downstream.
    from_m, to_m : float or None
        Where it begins and ends along the creek; None for the creek's own end. [m]
    name : str
        What the plan is to be called.
    """

    recipe: Recipe = BLANK
    creek: str = ""
    banks: tuple[str, ...] = BOTH
    from_m: float | None = None
    to_m: float | None = None
    name: str = ""

    @property
    def stretch(self) -> Stretch:
        """Where it lies."""
        return Stretch(self.creek, self.banks, self.from_m, self.to_m)

    @property
    def width_m(self) -> float | None:
        """The width that is the same everywhere; None if it follows a rule. [m]."""
        rules = self.recipe.widths
        return rules[0].width_m if len(rules) == 1 else None

    def with_recipe(self, **changes: Any) -> Draft:
        """Return the draft with parts of its recipe changed."""
        return replace(self, recipe=replace(self.recipe, **changes))

    def with_width(self, width_m: float) -> Draft:
        """Return the draft with one width everywhere [m]."""
        return self.with_recipe(widths=(WidthRule(width_m=width_m),))

    def with_zone(self, place: int, **changes: Any) -> Draft:
        """Return the draft with parts of one zone changed."""
        zones = list(self.recipe.zones)
        zones[place] = replace(zones[place], **changes)
        return self.with_recipe(zones=tuple(zones))

    def with_kind(self, place: int, kind: PlantKind) -> Draft:
        """Return the draft with another plant of the grower's own; mixes and prices that name it follow its name."""
        was = self.recipe.plants[place]
        names = ((was.code, kind.code), (was.name, kind.name))
        renamed = {plain(before): after for before, after in names if before != after}

        def called(word: str) -> str:
            return renamed.get(plain(word), word)

        zones = tuple(
            replace(zone, mix=tuple(replace(kin, species=called(kin.species)) for kin in zone.mix))
            for zone in self.recipe.zones
        )
        plants = (*self.recipe.plants[:place], kind, *self.recipe.plants[place + 1 :])
        prices = {called(word): price for word, price in self.recipe.prices.items()}
        return self.with_recipe(plants=plants, zones=zones, prices=prices)

    def without_kind(self, place: int) -> Draft:
        """Return the draft without a plant of the grower's own, and without its price."""
        gone = self.recipe.plants[place]
        words = {plain(gone.code), plain(gone.name)}
        prices = {word: price for word, price in self.recipe.prices.items() if plain(word) not in words}
        plants = (*self.recipe.plants[:place], *self.recipe.plants[place + 1 :])
        return self.with_recipe(plants=plants, prices=prices)

    def turned(self, length_m: float) -> Draft:
        """Return the draft for the same ground once the water runs the other way along a creek so long [m]."""
        begin, end = (None if at is None else max(length_m - at, 0.0) for at in (self.to_m, self.from_m))
        return replace(self, from_m=begin, to_m=end)

    def troubles(self) -> tuple[str, ...]:
        """Return what has to be put right before it can be worked out, in words."""
        found: list[str] = []
        if not self.banks:
            found.append("Tick the left bank, the right bank or both.")
        if self.from_m is not None and self.to_m is not None and self.to_m - self.from_m < 0.5:
            found.append("The stretch has no length: “To” must be farther down the creek than “From”.")
        if not self.recipe.widths:
            found.append("Nothing is said about the width; add a width rule.")
        if not self.recipe.zones:
            found.append("There is no zone; add one.")
        for place, zone in enumerate(self.recipe.zones, 1):
            found += [f"Zone {place}, {zone.name or 'without a name'}: {words}" for words in zone_troubles(zone)]
        shares = [zone.share for zone in self.recipe.zones if zone.share is not None]
        total = 100 * sum(shares)
        fixed = any(zone.width_m is not None for zone in self.recipe.zones)
        if shares and not fixed and abs(total - 100) > PART_OF_PERCENT:
            found.append(f"The zones take {percent(total)} of the width; together they must take 100 %.")
        return (*found, *_kind_troubles(self.recipe.plants), *_share_troubles(self.recipe.shares))


def _kind_troubles(kinds: Sequence[PlantKind]) -> list[str]:
    return [
        f"{kind.name}: the years at which it is so large must rise from line to line."
        for kind in kinds
        if any(later <= earlier for earlier, later in pairwise(kind.years))
    ]


def _share_troubles(shares: Mapping[str, Share]) -> list[str]:
    paid = {kind: share.grant_percent + share.in_kind_percent for kind, share in shares.items()}
    return [
        f"Grant and in kind pay {percent(paid[kind])} of {words}; together they may pay 100 %."
        for kind, words in SHARE_KINDS
        if paid.get(kind, 0.0) > 100 + PART_OF_PERCENT
    ]


def zone_troubles(zone: Zone) -> list[str]:
    """Return what has to be put right in one zone."""
    if zone.pattern is Pattern.NONE:
        return []
    found: list[str] = []
    if not zone.between_m > 0:
        found.append("give a spacing of more than 0 m.")
    if not zone.mix:
        found.append("nothing grows there yet; add a kind of plant, or leave the zone in grass.")
    elif any(not kin.species for kin in zone.mix):
        found.append("a line of the mix has no kind of plant.")
    twice = [kin.species for place, kin in enumerate(zone.mix) if kin.species and _again(kin, zone.mix[:place])]
    if twice:
        found.append(f"{twice[0]} is there twice; put both shares on one line.")
    total = 100 * sum(kin.share for kin in zone.mix)
    if zone.mix and abs(total - 100) > PART_OF_PERCENT:
        found.append(f"the shares add up to {percent(total)}; they must make 100 %.")
    return found


def _again(kin: Kin, others: Sequence[Kin]) -> bool:
    return any(plain(kin.species) == plain(other.species) and kin.stock == other.stock for other in others)


def least_width_m(zones: Sequence[Zone]) -> float:
    """Return the width that zones of fixed width need at least; inf where no width is enough [m]."""
    least, fixed, share = 0.0, 0.0, 0.0
    for zone in zones:
        fixed, share = fixed + (zone.width_m or 0.0), share + (zone.share or 0.0)
        if fixed > 0:
            least = max(least, fixed / (1.0 - share) if share < 1.0 else math.inf)
    return least


def evened(mix: Sequence[Kin]) -> tuple[Kin, ...]:
    """Return a mix whose shares make 1 and keep their proportions; all alike where they are nothing yet."""
    total = sum(max(kin.share, 0.0) for kin in mix)
    if not mix:
        return ()
    if total <= 0:
        return tuple(replace(kin, share=1.0 / len(mix)) for kin in mix)
    shares = [round(max(kin.share, 0.0) / total, 4) for kin in mix]
    largest = max(range(len(shares)), key=shares.__getitem__)
    shares[largest] += 1.0 - sum(shares)
    return tuple(replace(kin, share=round(share, 6)) for kin, share in zip(mix, shares, strict=True))


def percent(value: float) -> str:
    """Return a share in per cent as it is written."""
    return f"{value:.1f}".removesuffix(".0") + " %"
