"""How wide a margin is along a bank, by a grower's rules: the widest of them counts.

Widths by rule change evenly: where a rule asks for more from some place on,
the margin begins to widen before it, by no more than a metre in two metres of
bank, and so is nowhere narrower than the rule asks. A width out to a fence is
evened out the other way, so that the margin nowhere runs past the fence.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.farm.heights import Heights
from farmmap.figures.banks import BESIDE_M, SIDES, Reach, pieces
from farmmap.figures.remembered import Remembered
from farmmap.plans.planting.ground.bank_stations import Stations, fence_off_m, slopes_deg, stations_of
from farmmap.plans.planting.ground.stretch import CreekPart
from farmmap.plans.planting.recipes.limits import ANY
from farmmap.plans.planting.recipes.recipe import Step, WidthRule
from farmmap.plans.planting.recipes.rule_set import RuleSet
from farmmap.plans.planting.recipes.rules import width_by_rule

Floats = NDArray[np.float64]

CHANGE = 0.5
"""Metres by which the width changes at most in a metre of bank."""

ROUND_TO = 6
"""Decimal places of a metre that widths are told to."""

EVEN_M = 1e-9
"""Widths that differ by less are the same. [m]"""

NARROW_M = 1.0
"""Of narrower margins the grower is told. [m]"""

BENT = 2e-6
"""Where the width goes on changing as it did but for so much a metre, no station is needed."""

_WIDTHS: Remembered[BankWidths] = Remembered(12)


@dataclass(frozen=True, eq=False)
class BankWidths:
    """Widths of a margin along a bank, evenly changing between the places at which they are given.

    Attributes
    ----------
    at_m : tuple of ndarray
        For each stretch of the part the places, from its beginning to its end. [ground m along the creek]
    width_m : tuple of ndarray
        The widths there. [ground m]
    notes : tuple of str
        What the grower should know of them.
    """

    at_m: tuple[Floats, ...]
    width_m: tuple[Floats, ...]
    notes: tuple[str, ...] = ()

    @property
    def steady_m(self) -> float | None:
        """The width if it is the same everywhere, else None. [m]."""
        return self.greatest_m if self.greatest_m == self.least_m else None

    @property
    def greatest_m(self) -> float:
        """The greatest width. [m]."""
        return max((float(widths.max()) for widths in self.width_m), default=0.0)

    @property
    def least_m(self) -> float:
        """The least width. [m]."""
        return min((float(widths.min()) for widths in self.width_m), default=0.0)

    def stations(self, part: CreekPart) -> list[tuple[Floats, Floats]]:
        """Return for each stretch the lengths along it at which widths are given [grid m], and the widths [m]."""
        return [
            ((at - start) * part.creek.scale, widths)
            for at, start, widths in zip(self.at_m, part.starts_m, self.width_m, strict=True)
        ]


def steady(part: CreekPart, width_m: float, notes: tuple[str, ...] = ()) -> BankWidths:
    """Return the same width all along a stretch."""
    ends = tuple(
        np.array([start, start + reach.line.length / part.creek.scale])
        for start, reach in zip(part.starts_m, part.reaches, strict=True)
    )
    return BankWidths(ends, tuple(np.full(2, float(width_m)) for _ in ends), notes)


def bank_widths(
    farm: Farm,
    part: CreekPart,
    side: int,
    rules: tuple[WidthRule, ...],
    heights: Heights | None,
    rule_sets: Mapping[str, RuleSet],
) -> BankWidths:
    """Return how wide the margin of a bank is.

    Parameters
    ----------
    farm : Farm
        The farm, for its fences.
    part : CreekPart
        The stretch.
    side : int
        0 for the left bank, 1 for the right.
    rules : tuple of WidthRule
        The widest of them counts; each keeps to its own least and greatest width.
    heights : Heights or None
        Elevation grid, for rules by slope.
    rule_sets : mapping of str to RuleSet
        Published rules and the user's own.

    Raises
    ------
    BadInput
        A rule needs what is not known: the channel's width, the ground's slope, a rule set, a fence.
    """
    named = tuple(rule_sets.get(rule.rule_set) for rule in rules)
    same = (part, farm.creeks, farm.fences, heights, *named)
    return _WIDTHS.get(same, (side, rules), lambda: _Working(farm, part, side, heights, rule_sets).told(rules))


class _Working:
    """One bank's widths being worked out."""

    def __init__(
        self, farm: Farm, part: CreekPart, side: int, heights: Heights | None, rule_sets: Mapping[str, RuleSet]
    ) -> None:
        self._farm, self._part, self._side, self._heights, self._rule_sets = farm, part, side, heights, rule_sets
        self._notes: dict[str, None] = {}
        self._on: Stations | None = None

    def told(self, rules: tuple[WidthRule, ...]) -> BankWidths:
        """Widths by all rules together; of a margin with hardly any width it is said."""
        found = self.widths(rules)
        if found.least_m >= NARROW_M:
            return found
        steady_or_not = "is only" if found.steady_m is not None else "narrows to"
        said = (
            f"The margin along {self._bank} {steady_or_not} {found.least_m:.2f} m: few plants, if any, find room there."
        )
        return replace(found, notes=(*found.notes, said))

    def widths(self, rules: tuple[WidthRule, ...]) -> BankWidths:
        """Widths by all rules together."""
        if not rules:
            raise BadInput("no rule says how wide the margin is; give it a width")
        fixed = [_within(rule, rule.width_m) for rule in rules if rule.width_m is not None]
        if len(fixed) == len(rules):
            return steady(self._part, max(map(float, fixed)))
        by_rule = [
            _within(rule, self._by_rule(place, rule)) for place, rule in enumerate(rules, start=1) if not rule.to_fence
        ]
        asked: Floats | None = None
        if by_rule:
            each = [np.broadcast_to(widths, len(self._stations)) for widths in by_rule]
            asked = self._evened(np.max(each, axis=0), -1.0)
        for place, rule in enumerate(rules, start=1):
            if rule.to_fence:
                fenced = _within(rule, self._to_fence(place, rule, asked))
                asked = fenced if asked is None else np.maximum(asked, fenced)
        assert asked is not None
        return self._kept(asked)

    @property
    def _stations(self) -> Stations:
        if self._on is None:
            self._on = stations_of(self._part, self._side)
        return self._on

    @property
    def _bank(self) -> str:
        return f"the {SIDES[self._side]} bank of {self._part.creek.name}"

    def _by_rule(self, place: int, rule: WidthRule) -> Floats:
        if rule.width_m is not None:
            return np.asarray(float(rule.width_m))
        if rule.by_channel:
            return _of_steps(rule.by_channel, self._channel_m(f"width rule {place} goes by the channel's width"))
        if rule.by_slope:
            return _of_steps(rule.by_slope, self._slope_deg(f"width rule {place} goes by slope", rule))
        if rule.rule_set:
            return self._published(place, rule)
        raise BadInput(f"width rule {place} says no width; give width_m, by_channel, by_slope, rule_set or to_fence")

    def _published(self, place: int, rule: WidthRule) -> Floats:
        named = self._rule_sets.get(rule.rule_set)
        if named is None:
            known = ", ".join(f"'{name}'" for name in self._rule_sets) or "none"
            raise BadInput(
                f"width rule {place} names the rule set '{rule.rule_set}', which is not known; there are {known}"
            )
        self._notes[named.words()] = None
        rows = named.rows_for(rule.purpose)
        if any(row.stream_order != ANY for row in rows):
            self._notes[
                f"The rule '{named.name}' goes by stream order, which the farm does not know: the widest that any "
                "order asks for is taken."
            ] = None
        why = f"width rule {place} goes by '{named.name}', which"
        slopes = (
            self._slope_deg(f"{why} goes by slope", rule)
            if named.needs_slope(rule.purpose)
            else np.full(len(self._stations), np.nan)
        )
        by_channel = any(
            np.isnan(width_by_rule(replace(named, rows=(row,)), rule.purpose, np.nan, 0.0)) for row in rows
        )
        channel = self._channel_m(f"{why} goes by the channel's width") if by_channel else np.full(len(slopes), np.nan)
        return width_by_rule(named, rule.purpose, channel, slopes)

    def _channel_m(self, why: str) -> Floats:
        """Width of the channel at each station. [m]."""
        unknown = [reach for reach in self._part.reaches if reach.half <= 0 and reach.widths[self._side] > 0]
        if unknown and self._told_as_0(unknown):
            self._notes[
                f"The channel of {self._part.creek.name} is given as 0 m wide; rules by the channel's width take it as "
                "the narrowest. Give its width on the farm if it has one."
            ] = None
        elif unknown:
            raise BadInput(
                f"{why}, but that of {self._part.creek.name} is not known everywhere on this stretch; give its "
                "channel's width on the farm (a creek drawn by its banks has none), or another width"
            )
        return self._stations.each(lambda reach: 2 * reach.half / self._part.creek.scale)

    def _told_as_0(self, reaches: list[Reach]) -> bool:
        """Whether the farm says of stretches that their channel is 0 m wide, and does not just say nothing."""
        rows = self._farm.creeks
        own = rows[(rows["name"] == self._part.creek.name) & (rows["stage"] == "existing")]
        told = own.geometry[(own["channel_m"] <= 0) & (own["drawn_as"] == "centre line")].to_numpy()
        begins, ends, _ = pieces(np.array([reach.line for reach in reaches], object))
        away = shapely.distance(shapely.points((begins + ends) / 2), shapely.multilinestrings(shapely.get_parts(told)))
        return len(told) > 0 and bool((away <= BESIDE_M).all())

    def _slope_deg(self, why: str, rule: WidthRule) -> Floats:
        """Mean slope of the ground beside each station. [degrees]."""
        if self._heights is None:
            raise BadInput(
                f"{why}, and no elevation grid is at hand; bring one in as a backdrop, or give the width in another way"
            )
        slopes = slopes_deg(self._stations, self._heights, rule.slope_within_m, self._part.creek.scale)
        known = np.isfinite(slopes)
        if not known.any():
            raise BadInput(f"{why}, and the elevation grid does not reach {self._bank}; bring in one that does")
        if not known.all():
            self._notes[
                f"The elevation grid does not reach all of {self._bank}; there the slope is taken from the nearest "
                "place that it does reach."
            ] = None
            slopes = slopes[self._stations.nearest_of(known)]
        return slopes

    def _to_fence(self, place: int, rule: WidthRule, asked: Floats | None) -> Floats:
        on = self._stations
        off = fence_off_m(self._farm, self._part, on, rule.most_m)
        seen = np.isfinite(off)
        if not seen.any() and asked is None:
            raise BadInput(
                f"width rule {place} runs out to the fence, but there is none within {rule.most_m:,.0f} m of "
                f"{self._bank}; draw the fence, or give another width beside it"
            )
        if not seen.all():
            share = 100 * float(on.weight_m[~seen].sum() / on.weight_m.sum())
            instead = f"{rule.most_m:,.0f} m wide" if asked is None else "as wide as the other rules say"
            self._notes[
                f"No fence is seen within {rule.most_m:,.0f} m from {share:.0f} % of {self._bank}; there the margin is "
                f"{instead}."
            ] = None
        if asked is not None and (asked[seen] > off[seen] + EVEN_M).any():
            self._notes[f"Somewhere along {self._bank} the fence stands nearer than another width rule asks."] = None
        return self._evened(np.where(seen, off, rule.most_m if asked is None else asked), 1.0)

    def _evened(self, widths: Floats, hand: float) -> Floats:
        """Widths that change evenly, nowhere narrower (-1) or nowhere wider (1) than asked for."""
        return hand * self._stations.spread(hand * widths, CHANGE)

    def _kept(self, widths: Floats) -> BankWidths:
        """Widths by stretch, without stations that lie on a straight line between others."""
        notes = tuple(self._notes)
        widths = np.round(widths, ROUND_TO)
        if widths.max() - widths.min() <= EVEN_M:
            return steady(self._part, float(widths.max()), notes)
        scale = self._part.creek.scale
        at, kept = [], []
        for start, (along, own) in zip(self._part.starts_m, self._stations.by_reach(widths), strict=True):
            if not len(own):
                at.append(np.array([start]))
                kept.append(np.array([widths.max()]))
                continue
            rise = np.diff(own) / np.diff(along)
            bends = np.concatenate([[True], np.abs(np.diff(rise)) > BENT, [True]])
            at.append(start + along[bends] / scale)
            kept.append(own[bends])
        return BankWidths(tuple(at), tuple(kept), notes)


def _within(rule: WidthRule, widths: Floats | float) -> Floats:
    return np.clip(np.asarray(widths, np.float64), rule.least_m, max(rule.most_m, rule.least_m))


def _of_steps(steps: Sequence[Step], values: Floats) -> Floats:
    """Widths by a table: the first line whose limit is not passed, or the last."""
    limits = np.array([np.inf if step.up_to is None else step.up_to for step in steps])
    order = np.argsort(limits, kind="stable")
    place = np.searchsorted(limits[order], values - EVEN_M, side="left")
    return np.array([step.width_m for step in steps])[order][np.minimum(place, len(steps) - 1)]
