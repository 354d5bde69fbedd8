"""Finding a species in a list that goes by genus or by full scientific name."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from typing import TypeVar

from farmmap.farm.farm import Farm
from farmmap.farm.species import known_species, plain
from farmmap.resource_files import resource_path

Entry = TypeVar("Entry")


@cache
def resource_rows(name: str) -> tuple[Mapping[str, str], ...]:
    """Return the lines of a CSV file of ``resources/``."""
    with resource_path(name).open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


def scientific_names(farm: Farm) -> dict[str, str]:
    """Return the scientific name of each species by code: the farm's own, else that of the list with farmmap."""
    names = {known.code: known.scientific for known in known_species()}
    own = zip(farm.species["code"], farm.species["scientific"], strict=True)
    return names | {str(code): str(name) for code, name in own if name}


def entry_for(scientific: str, entries: Mapping[str, Entry]) -> Entry | None:
    """Return the entry for the full name, else that for the genus, else that for everything (""), else None.

    Parameters
    ----------
    scientific : str
        Such as ``Pinus radiata`` or ``Populus × canadensis``; "" if not known.
    entries : mapping
        By name as `plain` writes it.
    """
    words = plain(scientific).split()
    for wanted in (" ".join(words[:2]), *words[:1], ""):
        if wanted in entries:
            return entries[wanted]
    return None


def number_or_nan(text: str) -> float:
    """Return a number of a resource file, nan for an empty field."""
    return float(text) if text else float("nan")
