"""Published widths of margins as data, and how wide a margin is by one of them.

The rules lie in ``resources/margin_rules.csv``; a grower's own file of the same
columns may lie beside. All are guidance: what holds where the farm lies, the
local code says.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from farmmap.errors import BadInput
from farmmap.plans.planting.recipes.limits import ANY, span_from_words
from farmmap.plans.planting.recipes.printable import refuse_not_printed
from farmmap.plans.planting.recipes.rule_set import GUIDANCE, RuleRow, RuleSet
from farmmap.plans.planting.recipes.table_reading import LONGEST_TEXT
from farmmap.plans.planting.recipes.written_text import written_text
from farmmap.resource_files import resource_path

__all__ = ["COLUMNS", "GUIDANCE", "RuleRow", "RuleSet", "rule_sets", "rule_sets_from_text", "width_by_rule"]

WIDEST_M = 500.0
"""A width above this is taken for a slip. [m]"""

COLUMNS = (
    "rule_set",
    "place",
    "source",
    "year",
    "datum",
    "purpose",
    "condition",
    "channel_m",
    "slope_deg",
    "slope_percent",
    "stream_order",
    "width_m",
    "more_m_per_percent",
    "over_percent",
)
_NEEDED = ("rule_set", "width_m")
_MOST_CELLS = 100_000

Floats = NDArray[np.float64]


def rule_sets(extra: Path | None = None) -> Mapping[str, RuleSet]:
    """Return all rules by name: the published ones, then the grower's own.

    Parameters
    ----------
    extra : Path or None
        A file of the grower's own with the columns of ``resources/margin_rules.csv``; a rule of the same name there
        takes the place of the published one.

    Raises
    ------
    BadInput
        The grower's own file cannot be used; the message tells each line and why.
    """
    if extra is None:
        return _published()
    own = rule_sets_from_text(written_text(extra, "table of rules"), str(extra), own=True)
    return MappingProxyType({**_published(), **own})


@cache
def _published() -> Mapping[str, RuleSet]:
    path = resource_path("margin_rules.csv")
    return MappingProxyType(rule_sets_from_text(written_text(path, "table of rules"), str(path)))


def rule_sets_from_text(text: str, where: str, *, own: bool = False) -> dict[str, RuleSet]:
    """Return the rules of a table with the columns of ``resources/margin_rules.csv``.

    Parameters
    ----------
    text : str
        The table: commas between cells, headings first.
    where : str
        Name of the file, for messages.
    own : bool
        Whether they are the grower's own.

    Raises
    ------
    BadInput
        A heading is missing or unknown, or lines cannot be used; all of them are named.
    """
    lines = _cells(text, where)
    headings = [word.strip() for word in lines[0][1]]
    unknown = [word for word in headings if word not in COLUMNS]
    missing = [word for word in _NEEDED if word not in headings]
    twice = {word for word in headings if headings.count(word) > 1}
    if unknown or missing or twice:
        raise BadInput(
            f"the headings of {where} cannot be used:"
            + (f" {', '.join(missing)} missing;" if missing else "")
            + (f" not known: {', '.join(unknown)};" if unknown else "")
            + (f" there twice: {', '.join(sorted(twice))};" if twice else "")
            + f" there are {', '.join(COLUMNS)}"
        )
    faults: list[str] = []
    heads: dict[str, tuple[str, str, str, str]] = {}
    rows: dict[str, list[RuleRow]] = {}
    for line, cells in lines[1:]:
        try:
            told = dict.fromkeys(COLUMNS, "") | _by_heading(headings, cells)
            row = _row(told, line)
        except BadInput as error:
            faults.append(f"  line {line}: {error}")
            continue
        name = told["rule_set"]
        head = (told["place"], told["source"], told["year"], told["datum"])
        if heads.setdefault(name, head) != head:
            faults.append(f"  line {line}: '{name}' has another place, source, year or datum than further up")
        rows.setdefault(name, []).append(row)
    if faults:
        raise BadInput(f"{where} cannot be used:\n" + "\n".join(faults))
    return {name: RuleSet(name, *heads[name], tuple(of_one), own) for name, of_one in rows.items()}


def width_by_rule(
    rule_set: RuleSet, purpose: str, channel_m: ArrayLike, slope_deg: ArrayLike, order: ArrayLike | None = None
) -> Floats:
    """Return the width of a margin by a rule.

    Parameters
    ----------
    rule_set : RuleSet
        The rule.
    purpose : str
        One of its purposes.
    channel_m, slope_deg : array_like
        Width of the channel [m] and slope of the ground beside it [degrees]; nan where not known.
    order : array_like or None
        Stream order (Strahler); None or nan where not known: the widest that any order could ask for is taken.

    Returns
    -------
    ndarray of float
        Widths in the shape that the inputs have together: the widest of the lines that hold, 0 where none does, nan
        where it depends on what is not known. [m]

    Raises
    ------
    BadInput
        The rule has no such purpose.
    """
    rows = rule_set.rows_for(purpose)
    channel, slope, streams = np.broadcast_arrays(
        np.asarray(channel_m, float),
        np.asarray(slope_deg, float),
        np.asarray(np.nan if order is None else order, float),
    )
    percent = 100 * np.tan(np.radians(slope))
    widths = np.zeros(channel.shape)
    unknown = np.zeros(channel.shape, bool)
    for row in rows:
        width = np.full(channel.shape, row.width_m)
        if row.more_m_per_percent:
            width = width + row.more_m_per_percent * np.maximum(percent - row.over_percent, 0)
        holds = np.ones(channel.shape, bool)
        for span, values in (
            (row.channel_m, channel),
            (row.slope_deg, slope),
            (row.slope_percent, percent),
            (row.stream_order, streams),
        ):
            if span != ANY:
                holds &= span.holds(values) | np.isnan(values)
        if row.channel_m != ANY:
            unknown |= np.isnan(channel)
        if row.by_slope:
            unknown |= np.isnan(slope)
        widths = np.where(holds, np.fmax(widths, width), widths)
    return np.where(unknown, np.nan, widths)


def _cells(text: str, where: str) -> list[tuple[int, list[str]]]:
    """Return the lines that hold anything, with their numbers; the first are the headings."""
    reader = csv.reader(text.splitlines(keepends=True), strict=True)
    lines: list[tuple[int, list[str]]] = []
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                lines.append((reader.line_num, cells))
            if len(lines) * len(COLUMNS) > _MOST_CELLS:
                raise BadInput(f"{where} has too many lines for a table of rules; is it the right file?")
    except csv.Error as error:
        raise BadInput(
            f"line {reader.line_num} of {where} is not a line of a table ({error}); check its quotes"
        ) from error
    if len(lines) < 2:
        raise BadInput(f"{where} holds no rule; give the headings {', '.join(COLUMNS)} and a line for each width")
    return lines


def _by_heading(headings: list[str], cells: list[str]) -> dict[str, str]:
    if len(cells) > len(headings) and any(cell.strip() for cell in cells[len(headings) :]):
        raise BadInput(f"{len(cells)} cells under {len(headings)} headings; put a text that holds commas into quotes")
    return {heading: cell.strip() for heading, cell in zip(headings, cells, strict=False)}


def _row(told: Mapping[str, str], line: int) -> RuleRow:
    if not told["rule_set"]:
        raise BadInput("rule_set is empty; name the rule")
    for column, text in told.items():
        refuse_not_printed(text, column)
        if len(text) > LONGEST_TEXT:
            raise BadInput(f"{column} has {len(text)} letters; {LONGEST_TEXT} at most")
    row = RuleRow(
        purpose=told["purpose"],
        condition=told["condition"],
        channel_m=span_from_words(told["channel_m"], "channel_m"),
        slope_deg=span_from_words(told["slope_deg"], "slope_deg"),
        slope_percent=span_from_words(told["slope_percent"], "slope_percent"),
        stream_order=span_from_words(told["stream_order"], "stream_order"),
        width_m=_number(told, "width_m"),
        more_m_per_percent=_number(told, "more_m_per_percent") if told["more_m_per_percent"] else 0.0,
        over_percent=_number(told, "over_percent") if told["over_percent"] else 0.0,
        line=line,
    )
    if row.over_percent and not row.more_m_per_percent:
        raise BadInput("over_percent is given without more_m_per_percent; say how many metres more for each per cent")
    return row


def _number(told: Mapping[str, str], column: str) -> float:
    try:
        value = float(told[column])
    except ValueError:
        raise BadInput(f"{column} is '{told[column]}', not a number; write it with a point, like 4.5") from None
    if not (math.isfinite(value) and 0 <= value <= WIDEST_M):
        raise BadInput(f"{column} is {told[column]}; it must lie between 0 and {WIDEST_M:g}")
    return value
