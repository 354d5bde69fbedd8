"""The plan of columns: which of theirs fills which of ours, guessed, shown and open to change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from farmmap.errors import BadInput
from farmmap.farm.schema import Kind
from farmmap.farm.species import plain
from farmmap.files.bringing.heads import (
    Target,
    candidates,
    columns_of,
    is_number,
    takes_unit,
    target_of,
    unit_of,
)
from farmmap.files.bringing.values import (
    STAGE_WORDS,
    STATUS_WORDS,
    days_of,
    numbers_of,
    texts_of,
    without_nothing,
    words_of,
)
from farmmap.files.sources.source import Source

LOOKED_AT = 5000
"""Rows that the guess looks at; the whole of a large file tells no more."""

AXES = {"x": "y", "y": "x", "lon": "lat", "lat": "lon"}


@dataclass(frozen=True)
class Filling:
    """One of our columns, and what fills it.

    Attributes
    ----------
    target : Target
        Our column, and the unit in which theirs is written.
    theirs : str
        Heading in the source.
    why : str
        What was taken for granted, "" if nothing.
    """

    target: Target
    theirs: str
    why: str = ""


@dataclass(frozen=True, eq=False)
class Plan:
    """Which column of a source fills which of a table.

    Attributes
    ----------
    source : Source
        Where the columns come from.
    table : str
        Table that is filled.
    fillings : mapping of str to Filling
        By the name of our column.
    swapped : bool
        The shapes of the source have their axes the wrong way round.
    girth : Filling or None
        A column of girths beside one of diameters; stands in where the diameter is blank.
    """

    source: Source
    table: str
    fillings: Mapping[str, Filling] = field(default_factory=dict)
    swapped: bool = False
    girth: Filling | None = None

    @property
    def unused(self) -> tuple[str, ...]:
        """Headings of the source that fill nothing."""
        used = {filling.theirs for filling in self._all_fillings}
        return tuple(str(name) for name in self.source.rows.columns if name not in used)

    @property
    def said(self) -> list[str]:
        """What the guess took for granted."""
        return [filling.why for filling in self._all_fillings if filling.why]

    @property
    def _all_fillings(self) -> list[Filling]:
        return [*self.fillings.values(), *([self.girth] if self.girth else [])]

    def with_column(self, ours: str, theirs: str) -> Plan:
        """Return the plan with one of our columns filled by another of theirs.

        Parameters
        ----------
        ours : str
            Our name, with the unit of theirs if it is another: ``dbh_mm``, ``girth_in``, ``height_ft``.
            For a source with shapes ``lon`` filled by ``lat`` turns the axes round.
        theirs : str
            Heading in the source; "" leaves ours empty.

        Raises
        ------
        BadInput
            There is no such column, on either side.
        """
        target = target_of(ours, self.table)
        if target is None:
            known = [*columns_of(self.table), *AXES]
            raise BadInput(f"{self.table} has no column '{ours}'; there are {', '.join(known)}")
        fillings = {name: f for name, f in self.fillings.items() if name != target.ours}
        girth = None if target.ours == "dbh_cm" and (target.girth or not theirs.strip()) else self.girth
        if not theirs.strip():
            return replace(self, fillings=fillings, girth=girth)
        found = [str(n) for n in self.source.rows.columns if str(n) == theirs] or [
            str(name) for name in self.source.rows.columns if plain(str(name)) == plain(theirs)
        ]
        if not found:
            if self.source.geometry is not None and plain(theirs) in AXES and target.ours in AXES:
                return replace(self, swapped=plain(theirs) != target.ours)
            has = ", ".join(str(name) for name in self.source.rows.columns) or "none"
            raise BadInput(f"{self.source.path.name} has no column '{theirs}'; it has {has}")
        fillings = {name: f for name, f in fillings.items() if f.theirs != found[0] or f.target.ours in AXES}
        if target.ours in AXES:  # x and y push out lon and lat, and the other way round
            others = {"lon", "lat"} if target.ours in {"x", "y"} else {"x", "y"}
            fillings = {name: f for name, f in fillings.items() if name not in others}
        fillings[target.ours] = Filling(target, found[0])
        order = [*AXES, *columns_of(self.table)]
        if "dbh_cm" not in fillings or (girth and girth.theirs == found[0]):
            girth = None
        in_order = dict(sorted(fillings.items(), key=lambda pair: order.index(pair[0])))
        return replace(self, fillings=in_order, girth=girth)

    def as_text(self) -> str:
        """Return the plan as it is shown: ours, theirs, what is done to the number, what is left unused."""
        wide = max((len(name) for name in self.fillings), default=0)
        lines = []
        if self.source.geometry is not None:
            lines.append("shapes: those of the file" + (", axes turned round" if self.swapped else ""))
        for name, filling in self.fillings.items():
            how = filling.target.words
            lines.append(f"{name:{wide}}  <-  {filling.theirs}{f'  ({how})' if how else ''}")
            if name == "dbh_cm" and self.girth:
                how = f"{self.girth.target.words}; where {filling.theirs} is blank"
                lines.append(f"{name:{wide}}  <-  {self.girth.theirs}  ({how})")
        if self.unused:
            lines.append(f"left unused: {', '.join(self.unused)}")
        return "\n".join(lines)


def guess_plan(source: Source, table: str) -> Plan:
    """Guess from headings and values which column of a source fills which of a table.

    Parameters
    ----------
    source : Source
        What was read.
    table : str
        Table that is to be filled.
    """
    wanted: list[tuple[int, int, str, Target]] = []
    for position, head in enumerate(source.rows.columns):
        wanted += [(rank, position, str(head), target) for rank, target in candidates(str(head), table)]
    fillings: dict[str, Filling] = {}
    girth: Filling | None = None
    used: set[str] = set()
    for rank, _, head, target in sorted(wanted, key=lambda w: (w[0], w[1])):
        beside = target.girth and girth is None and "dbh_cm" in fillings and not fillings["dbh_cm"].target.girth
        if (
            (target.ours in fillings and not beside)
            or head in used
            or not _fits(source.column(head, LOOKED_AT), source, table, target, sure=rank < 20)
        ):
            continue
        if beside:
            girth = Filling(target, head)
        else:
            fillings[target.ours] = Filling(target, head)
        used.add(head)
    _one_pair_of_axes(fillings, source)
    _numbers_called_marks(fillings, source, table)
    if source.kind in {"GPX", "KML"} and "tag" in columns_of(table) and "name" in source.rows.columns:
        fillings.setdefault("tag", Filling(Target("tag"), "name"))  # all that a GPS lets one write on a point
    order = [*AXES, *columns_of(table)]
    fillings = {name: _with_likely_unit(fillings[name], source, table) for name in order if name in fillings}
    return Plan(source, table, fillings, girth=girth and _with_likely_unit(girth, source, table))


def _fits(column: pd.Series, source: Source, table: str, target: Target, *, sure: bool) -> bool:
    """Whether at least half of what stands in a column can be what its heading promises."""
    texts = without_nothing(texts_of(column))
    stands = (texts != "").to_numpy()
    if not stands.any():
        return sure
    described = columns_of(table).get(target.ours)
    if target.ours == "status":
        odd = words_of(texts, STATUS_WORDS)[1]
    elif target.ours == "stage":
        odd = words_of(texts, STAGE_WORDS)[1]
    elif is_number(target.ours, table):
        odd = numbers_of(column, decimal_comma=source.decimal_comma, unit=unit_of(target, table))[1]
    elif described is not None and described.kind in {Kind.DAY, Kind.WHEN}:
        odd = days_of(column, target.ours).odd
    elif described is not None and described.allowed:
        odd = words_of(texts, {plain(word): word for word in described.allowed})[1]
    elif target.ours == "species":
        if sure:
            return True
        numbers, odd = numbers_of(column, decimal_comma=source.decimal_comma)
        return not bool(np.isfinite(numbers[stands]).mean() > 0.5)
    else:
        return True
    return (sure and described is not None and described.name in {"status", "dbh_cm", "measured_on"}) or bool(
        odd[stands].mean() <= 0.5
    )


def _one_pair_of_axes(fillings: dict[str, Filling], source: Source) -> None:
    """Keep x and y, or lon and lat, whichever is whole; neither where the source has shapes."""
    if source.geometry is not None:
        pairs = [("x", "y"), ("lon", "lat")]
    elif {"x", "y"} <= set(fillings):
        pairs = [("lon", "lat")]
    elif {"lon", "lat"} <= set(fillings):
        pairs = [("x", "y")]
    else:
        return
    for pair in pairs:
        for name in pair:
            fillings.pop(name, None)


def _numbers_called_marks(fillings: dict[str, Filling], source: Source, table: str) -> None:
    """Take ``marks`` of a stem map that are numbers as its diameters."""
    if "dbh_cm" in fillings or "dbh_cm" not in columns_of(table):
        return
    used = {filling.theirs for filling in fillings.values()}
    for head in source.rows.columns:
        if plain(str(head)) in {"marks", "mark"} and head not in used:
            numbers, odd = numbers_of(source.column(str(head), LOOKED_AT), decimal_comma=source.decimal_comma)
            if np.isfinite(numbers).any() and not odd.any():
                why = f"'{head}' holds numbers, so it was taken as the diameter."
                fillings["dbh_cm"] = Filling(Target("dbh_cm"), str(head), why)
                return


def _with_likely_unit(filling: Filling, source: Source, table: str) -> Filling:
    """Where the heading names no unit and the numbers cannot be in ours, take the unit that they can be in."""
    target = filling.target
    if target.unit or target.ours not in {"dbh_cm", "height_m"} or not takes_unit(target.ours, table):
        return filling
    if not target.girth and plain(filling.theirs) == plain(target.ours):
        return filling
    theirs, unit = source.column(filling.theirs, LOOKED_AT), unit_of(target, table)
    numbers, _ = numbers_of(theirs, decimal_comma=source.decimal_comma, unit=unit)
    numbers = numbers[np.isfinite(numbers) & (numbers > 0)]
    if len(numbers) < 3:
        return filling
    middle, most = float(np.median(numbers)), float(numbers.max())
    unit = _likely_unit(target, middle, most)
    if not unit:
        return filling
    what = "girths" if target.girth else "diameters" if target.ours == "dbh_cm" else "heights"
    name = "girth" if target.girth else target.ours.rpartition("_")[0]
    own = target.ours.rpartition("_")[2]
    why = (
        f"'{filling.theirs}' names no unit; half of its {what} are under {middle:g} and the largest is {most:g}, "
        f"so they were taken as {unit}. If they are {own}, say --column {name}_{own}={filling.theirs}"
    )
    return replace(filling, target=replace(target, unit=unit), why=" ".join(w for w in (filling.why, why) if w))


def _likely_unit(target: Target, middle: float, most: float) -> str:
    if target.ours == "height_m":
        return "cm" if middle > 130 else "ft" if middle > 65 else ""
    wide = np.pi if target.girth else 1.0
    if middle < 1.0 * wide and most <= 4.0 * wide and middle != round(middle):
        return "m"
    return "mm" if middle > 150 * wide else ""
