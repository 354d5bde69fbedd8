"""Sheets that were composed and are kept with the farm, each under its name."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field

from farmmap.editing.proposed import Proposed, added_change, edit_of, removed_change, rows_of
from farmmap.editing.values import typed
from farmmap.errors import BadInput
from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm, next_ids, shaped
from farmmap.farm.schema import SHEETS
from farmmap.farm.species import plain


@dataclass(frozen=True)
class KeptSheet:
    """A sheet as it is kept with the farm.

    Attributes
    ----------
    id : int
        Its row in the table of sheets.
    name : str
        What it is called.
    choices : dict
        How it was composed, by the names of the choices: texts, numbers, lists and the like.
    trouble : str
        Why its choices cannot be read, in words; "" if they can.
    """

    id: int
    name: str
    choices: dict[str, object] = field(default_factory=dict)
    trouble: str = ""


def kept_sheets(farm: Farm) -> tuple[KeptSheet, ...]:
    """Return the sheets of a farm in the order in which they were first kept."""
    rows = farm.tables["sheets"]
    return tuple(
        _kept(int(row), str(name), str(choices))
        for row, name, choices in zip(rows.index, rows["name"], rows["choices"], strict=True)
    )


def sheet_called(farm: Farm, name: str) -> KeptSheet:
    """Return the kept sheet of a name; case, accents and spaces at its ends do not matter.

    Raises
    ------
    BadInput
        There is none.
    """
    sheets = kept_sheets(farm)
    for sheet in sheets:
        if _compared(sheet.name) == _compared(name):
            return sheet
    known = f"it keeps {', '.join(sheet.name for sheet in sheets)}" if sheets else "none is kept yet"
    raise BadInput(f"the farm keeps no sheet called {name}; {known}")


def free_name(farm: Farm, name: str) -> str:
    """Return a name for a new sheet: the one that is wished for, or with a number behind it where that is taken."""
    wished = name.strip() or "Sheet"
    taken = {_compared(sheet.name) for sheet in kept_sheets(farm)}
    tries = (wished, *(f"{wished} {number}" for number in range(2, len(taken) + 2)))
    return next(called for called in tries if _compared(called) not in taken)


def sheet_kept(farm: Farm, name: str, choices: Mapping[str, object]) -> Proposed:
    """Propose to keep a sheet under a new name.

    Parameters
    ----------
    farm : Farm
        The farm.
    name : str
        What it is to be called.
    choices : mapping of str to object
        How it was composed; texts, numbers, lists and mappings of them.

    Raises
    ------
    BadInput
        It has no name, or one that is taken.
    """
    called = _name(farm, name)
    values = {"name": [called], "choices": [_written(choices)]}
    row = shaped(SHEETS, values, next_ids(farm.tables["sheets"], 1), farm.grid)
    return Proposed(edit_of(f"Keep sheet {called}", {"sheets": added_change(farm, "sheets", row)}))


def sheet_changed(farm: Farm, sheet: int, choices: Mapping[str, object]) -> Proposed:
    """Propose other choices for a kept sheet.

    Raises
    ------
    BadInput
        It is not there any more, or nothing would change.
    """
    return _with(farm, sheet, "choices", _written(choices), "Change sheet", "")


def sheet_renamed(farm: Farm, sheet: int, name: str) -> Proposed:
    """Propose another name for a kept sheet.

    Raises
    ------
    BadInput
        It is not there any more, the name is empty or taken, or nothing would change.
    """
    called = _name(farm, name, sheet)
    return _with(farm, sheet, "name", called, "Rename sheet", f" to {called}")


def sheet_removed(farm: Farm, sheet: int) -> Proposed:
    """Propose to keep a sheet no longer.

    Raises
    ------
    BadInput
        It is not there any more.
    """
    called = rows_of(farm, "sheets", sheet)["name"].iloc[0]
    return Proposed(edit_of(f"Remove sheet {called}", {"sheets": removed_change(farm, "sheets", [sheet])}))


def _with(farm: Farm, sheet: int, column: str, text: str, done: str, to: str) -> Proposed:
    before = rows_of(farm, "sheets", sheet)
    called = str(before["name"].iloc[0])
    if str(before[column].iloc[0]) == text:
        raise BadInput(f"sheet {called}: nothing changes")
    after = before.assign(**{column: [text]}).astype(before.dtypes)
    return Proposed(edit_of(f"{done} {called}{to}", {"sheets": Change(before, after)}))


def _name(farm: Farm, name: str, own: int = 0) -> str:
    called = str(typed(SHEETS, SHEETS.column("name"), " ".join(name.split())))
    for sheet in kept_sheets(farm):
        if _compared(sheet.name) == _compared(called) and sheet.id != own:
            raise BadInput(f"a sheet called {sheet.name} is kept already; give this one another name")
    return called


def _compared(name: str) -> str:
    """Return a name as it is compared with others; one without letters and digits as it stands."""
    return plain(name) or name.strip()


def _written(choices: Mapping[str, object]) -> str:
    return json.dumps(choices, ensure_ascii=False, sort_keys=True, separators=(", ", ": "), allow_nan=False)


def _kept(row: int, name: str, text: str) -> KeptSheet:
    try:
        choices = json.loads(text)
    except (ValueError, RecursionError):
        choices = None
    if not isinstance(choices, dict):
        words = f"how the sheet {name} was composed cannot be read; another program may have changed it"
        return KeptSheet(row, name, trouble=words)
    return KeptSheet(row, name, choices)
