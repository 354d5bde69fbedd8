"""The widths of one rule: its lines, where each holds, and where the rule comes from."""

from __future__ import annotations

from dataclasses import dataclass

from farmmap.errors import BadInput
from farmmap.plans.planting.recipes.limits import ANY, Span

GUIDANCE = "guidance, not the law where you are: check your local code"
"""What stands beside every width by rule."""


@dataclass(frozen=True)
class RuleRow:
    """One line of a rule: under which condition how wide.

    Attributes
    ----------
    purpose : str
        Which kind of water or planting it is for, "" if the rule has one kind only.
    condition : str
        The condition in the source's own terms and units.
    channel_m, slope_deg, slope_percent, stream_order : Span
        Where it holds; all of them together.
    width_m : float
        From the datum, on the level. [m]
    more_m_per_percent : float
        So much more for each per cent of slope above ``over_percent``. [m]
    over_percent : float
        See above. [%]
    line : int
        Its line in the file.
    """

    purpose: str
    condition: str
    channel_m: Span
    slope_deg: Span
    slope_percent: Span
    stream_order: Span
    width_m: float
    more_m_per_percent: float = 0.0
    over_percent: float = 0.0
    line: int = 0

    @property
    def by_slope(self) -> bool:
        """Whether the slope of the ground must be known."""
        return self.slope_deg != ANY or self.slope_percent != ANY or self.more_m_per_percent != 0


@dataclass(frozen=True)
class RuleSet:
    """The widths of one published rule, or of a grower's own.

    Attributes
    ----------
    name, place, source : str
        What it is called, where it holds, who published it.
    year : str
        When; "" if the source does not tell.
    datum : str
        From where the width counts, in words.
    rows : tuple of RuleRow
        Its lines; where several hold, the widest counts.
    own : bool
        Whether it is the grower's own.
    """

    name: str
    place: str
    source: str
    year: str
    datum: str
    rows: tuple[RuleRow, ...]
    own: bool = False

    @property
    def purposes(self) -> tuple[str, ...]:
        """The purposes it tells apart, in the order of its lines; ``("",)`` if it has one kind only."""
        return tuple(dict.fromkeys(row.purpose for row in self.rows))

    def rows_for(self, purpose: str) -> tuple[RuleRow, ...]:
        """Return the lines for a purpose.

        Raises
        ------
        BadInput
            There is no such purpose, or it has several and none is named.
        """
        if purpose in self.purposes:
            return tuple(row for row in self.rows if row.purpose == purpose)
        named = "; ".join(f"'{word}'" for word in self.purposes if word)
        if not named:
            raise BadInput(f"the rule '{self.name}' has one kind only; leave the purpose '{purpose}' out")
        asked = f"has no purpose '{purpose}'" if purpose else "has several purposes"
        raise BadInput(f"the rule '{self.name}' {asked}; name one of {named}")

    def needs_slope(self, purpose: str) -> bool:
        """Whether the slope of the ground must be known for a purpose."""
        return any(row.by_slope for row in self.rows_for(purpose))

    def words(self) -> str:
        """Return what stands beside a width by this rule: source, place, year, datum, and that it is guidance."""
        told = [self.source or "source not told", self.place, self.year or "no year told"]
        from_where = f"measured from: {self.datum or 'not told'}"
        return f"{self.name} ({', '.join(word for word in told if word)}; {from_where}): {GUIDANCE}."
