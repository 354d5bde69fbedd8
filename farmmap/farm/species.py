"""Species: the list that comes with farmmap, and finding one by code, trade name or scientific name."""

from __future__ import annotations

import csv
import re
import unicodedata
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pandas as pd

from farmmap.farm.farm import shaped
from farmmap.farm.grids import Grid
from farmmap.farm.schema import SPECIES
from farmmap.resource_files import resource_path

CROWN_PER_CM = 0.20
"""Crown diameter for each cm of stem where a species has none, m/cm: 20 stem diameters. Common practice, no source."""


@dataclass(frozen=True)
class Known:
    """A species of the list that comes with farmmap; fields as in the table, where it is native, and other names."""

    code: str
    name: str
    scientific: str
    origin: str
    crown_base_m: float
    crown_per_cm: float
    source: str
    native_to: str = ""
    also: tuple[str, ...] = ()


@cache
def known_species() -> tuple[Known, ...]:
    """Return the species of ``resources/species.csv``."""
    with resource_path("species.csv").open(encoding="utf-8", newline="") as file:
        return tuple(
            Known(
                row["code"],
                row["name"],
                row["scientific"],
                row["origin"],
                float(row["crown_base_m"] or "nan"),
                float(row["crown_per_cm"] or "nan"),
                row["source"],
                row["native_to"],
                tuple(word.strip() for word in row["also"].split(";") if word.strip()),
            )
            for row in csv.DictReader(file)
        )


def plain(text: str) -> str:
    """Return ``text`` as it is compared: no accents, no case, one space between words."""
    letters = unicodedata.normalize("NFKD", text)
    return re.sub(r"[\W_]+", " ", "".join(c for c in letters if not unicodedata.combining(c))).strip().casefold()


class SpeciesFinder:
    """Finds the code of a species, adding to the farm's own list what it does not know.

    Parameters
    ----------
    own : DataFrame
        The farm's species table; its names win over the list that comes with farmmap.
    """

    def __init__(self, own: pd.DataFrame) -> None:
        self._own = own
        self._codes: dict[str, str] = {}
        self._added: dict[str, Known] = {}
        self.newly_named: list[str] = []
        """Names that neither the farm nor farmmap's list knew, as they were written."""
        self._shipped: dict[str, Known] = {}
        for known in known_species():
            for word in (known.code, known.name, known.scientific, *known.also):
                self._shipped.setdefault(plain(word), known)
        for column in ("code", "name", "scientific"):
            for code, word in zip(own["code"], own[column], strict=True):
                if word:
                    self._codes.setdefault(plain(word), code)
        self._latin = _latin_names(own)

    def code_of(self, text: str) -> str:
        """Return the code for what was written, adding a species if need be; "" for nothing written."""
        wanted = plain(text)
        if not wanted:
            return ""
        if wanted not in self._codes and wanted not in self._shipped:
            wanted = self._latin_name_in(text) or wanted
        if wanted in self._codes:
            return self._codes[wanted]
        shipped = self._shipped.get(wanted)
        if shipped is not None:
            known = shipped
            if plain(known.code) in self._codes:
                known = Known(self._free_code(known.name), *[getattr(known, f) for f in _AFTER_CODE])
        else:
            name = text.strip()
            known = Known(self._free_code(name), name, "", "", float("nan"), float("nan"), "")
            self.newly_named.append(name)
        self._added[known.code] = known
        for word in (known.code, known.name, known.scientific):
            if word:
                self._codes.setdefault(plain(word), known.code)
        return known.code

    def code_for(self, kind: Known) -> str:
        """Return the code for a kind of plant, adding it with its figures if neither list knows it.

        It is known by its scientific name; by its trade name or code only where one of the two has no scientific name.
        """
        if kind.scientific and self._scientific_of(kind.scientific) is not None:
            return self.code_of(kind.scientific)
        for word in (kind.name, kind.code):
            other = self._scientific_of(word)
            if other is not None and not (other and kind.scientific):
                return self.code_of(word)
        is_free = kind.code and self._scientific_of(kind.code) is None
        code = kind.code if is_free else self._free_code(kind.name or kind.code)
        self._added[code] = replace(kind, code=code)
        for word in (code, kind.name, kind.scientific):
            if word:
                self._codes.setdefault(plain(word), code)
        return code

    def added(self, grid: Grid) -> pd.DataFrame:
        """Return rows for the species that were added, to be put into the species table."""
        first = int(self._own.index.max()) + 1 if len(self._own) else 1
        species = list(self._added.values())
        ids = np.arange(first, first + len(species), dtype=np.int64)
        fields = ("code", *_AFTER_CODE)
        return shaped(SPECIES, {f: [getattr(s, f) for s in species] for f in fields}, ids, grid)

    def _scientific_of(self, word: str) -> str | None:
        """Return the scientific name of the species known by a word, "" if it has none; None if none is known by it."""
        code = self._codes.get(plain(word))
        if code in self._added:
            return self._added[code].scientific
        if code is not None:
            return next(
                str(name) for own, name in zip(self._own["code"], self._own["scientific"], strict=True) if own == code
            )
        shipped = self._shipped.get(plain(word))
        return None if shipped is None else shipped.scientific

    def _latin_name_in(self, text: str) -> str:
        """Return the known name behind a scientific name with an author, a variety or a short genus; "" if none."""
        genus, epithet = _genus_and_epithet(text)
        if not epithet:
            return ""
        if (genus, epithet) in self._latin:
            return self._latin[genus, epithet]
        if len(genus) > 1 and not re.match(r"\s*\w+\.", text):
            return ""
        fits = [name for (full, other), name in self._latin.items() if other == epithet and full.startswith(genus)]
        return fits[0] if len(fits) == 1 else ""

    def _free_code(self, name: str) -> str:
        words = plain(name).split()
        stem = "".join(word[:3] for word in words[:2]).upper() or "SP"
        code, number = stem, 2
        while plain(code) in self._codes or plain(code) in self._shipped:
            code, number = f"{stem}{number}", number + 1
        return code


def _genus_and_epithet(text: str) -> tuple[str, str]:
    """Return the first two words of a scientific name, without the x of a hybrid; "" for what is missing."""
    words = plain(text).split()
    words = words[:1] + [word for word in words[1:] if word != "x"]
    return (words[0], words[1]) if len(words) > 1 else ("", "")


def _latin_names(own: pd.DataFrame) -> dict[tuple[str, str], str]:
    """Return genus and epithet of every known scientific name, older ones too, to that name as it is compared."""
    found: dict[tuple[str, str], str] = {}
    for name in own["scientific"]:
        found.setdefault(_genus_and_epithet(name), plain(name))
    for known in known_species():
        genus, epithet = _genus_and_epithet(known.scientific)
        found.setdefault((genus, epithet), plain(known.scientific))
        for name in known.also:  # an older name keeps the genus or the epithet; a trade name keeps neither
            older = _genus_and_epithet(name)
            if older[0] == genus or older[1] == epithet:
                found.setdefault(older, plain(name))
    found.pop(("", ""), None)
    return found


_AFTER_CODE = ("name", "scientific", "origin", "crown_base_m", "crown_per_cm", "source")
