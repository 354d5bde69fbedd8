"""Target diameters, set and taken away."""

from __future__ import annotations

import numpy as np
import pandas as pd

from farmmap.editing.guard import guarded
from farmmap.editing.proposed import Proposed, added_change, edit_of, removed_change, rows_of
from farmmap.editing.values import typed_values
from farmmap.editing.words import quoted
from farmmap.errors import BadInput
from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm, next_ids, shaped
from farmmap.farm.schema import TARGETS
from farmmap.farm.species import SpeciesFinder, plain
from farmmap.figures.growth.outlook_words import species_labels

EVERY_OTHER = "every other species"


@guarded
def target_set(farm: Farm, species: str, dbh_cm: object, product: str = "", note: str | None = None) -> Proposed:
    """Propose the diameter at which trees of a species are ready; an earlier one for the same product is replaced.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    species : str
        Code or name of the species, which the farm knows; "" for every species without a line of its own.
    dbh_cm : object
        The diameter, a number or as typed. [cm]
    product : str
        What they are grown for, "" if that is not said.
    note : str or None
        A note to it; None leaves that of an earlier target.

    Raises
    ------
    BadInput
        The diameter is not believable, the farm has no such species, or nothing would change.
    """
    finder = SpeciesFinder(farm.species)
    code = _code(farm, finder, species)
    given = {"species": code, "product": product, "dbh_cm": dbh_cm} | ({} if note is None else {"note": note})
    values = typed_values(TARGETS, given)
    held = farm.tables["targets"]
    same = [
        finder.code_of(str(of)) == code and plain(str(made_for)) == plain(values["product"])
        for of, made_for in zip(held["species"], held["product"], strict=True)
    ]
    name = f"Set target of {_called(farm, code)} to {values['dbh_cm']:g} cm"
    if not any(same):
        rows = shaped(TARGETS, {key: [value] for key, value in values.items()}, next_ids(held, 1), farm.grid)
        return Proposed(edit_of(name, {"targets": added_change(farm, "targets", rows)}))
    before = held[np.array(same, bool)].iloc[:1]
    after = before.copy()
    for key, value in values.items():
        after[key] = pd.array([value], dtype=before[key].dtype)
    if after.equals(before):
        raise BadInput(f"the target of {_called(farm, code)} is {values['dbh_cm']:g} cm already")
    return Proposed(edit_of(name, {"targets": Change(before, after)}))


@guarded
def target_removed(farm: Farm, row: int) -> Proposed:
    """Propose to take a target away; farmmap's usual one, if there is one, then holds again.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    row : int
        Id of the target.
    """
    found = rows_of(farm, "targets", [row]).iloc[0]
    code = SpeciesFinder(farm.species).code_of(str(found["species"]))
    name = f"Take away target of {_called(farm, code)}"
    return Proposed(edit_of(name, {"targets": removed_change(farm, "targets", [row])}))


def _code(farm: Farm, finder: SpeciesFinder, species: str) -> str:
    code = finder.code_of(species)
    if code and code not in set(farm.species["code"]) and code not in set(farm.trees["species"]):
        raise BadInput(f"the farm has no species {quoted(species)}; a target is set for one that it has")
    return code


def _called(farm: Farm, code: str) -> str:
    return species_labels(farm).get(code, code) or EVERY_OTHER
