"""What stands for each species on the map: colour, shape and letter, never colour alone."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import count

from farmmap.farm.farm import Farm
from farmmap.farm.species import plain
from farmmap.scene.colours import OKABE_ITO, UNKNOWN_COLOUR, YELLOW

__all__ = ["MARKS", "OKABE_ITO", "SHAPES", "UNKNOWN_COLOUR", "YELLOW", "SpeciesSymbol", "species_symbols"]

SHAPES = ("circle", "square", "triangle", "diamond", "wedge", "plus")
"""Outlines of symbols; six, so that with seven colours 42 pairs come before one returns."""

MARKS = ("", "dot", "ring")
"""What is set inside a symbol when all pairs of colour and shape are used up."""


@dataclass(frozen=True)
class SpeciesSymbol:
    """How one species is drawn.

    Attributes
    ----------
    code : str
        Code of the species, "" where a tree has none.
    name : str
        Its name for people.
    colour : str
        Fill, ``#rrggbb``.
    shape : str
        One of `SHAPES`.
    letter : str
        One or two letters, its alone on this farm.
    mark : str
        One of `MARKS`.
    """

    code: str
    name: str
    colour: str
    shape: str
    letter: str
    mark: str = ""


def species_symbols(farm: Farm) -> dict[str, SpeciesSymbol]:
    """Return the symbol of every species of the farm by code, in the order of its species table.

    Symbols depend on that order alone, so they stay the same while trees come
    and go. The symbol for ``""`` (species not given) and for codes that stand
    with trees but not in the table come last.
    """
    table = farm.species
    names = {str(code): str(name or scientific or code) for code, name, scientific in
             zip(table["code"], table["name"], table["scientific"], strict=True)}  # fmt: skip
    for code in sorted(farm.trees["species"].unique()):
        if code:
            names.setdefault(str(code), str(code))
    symbols: dict[str, SpeciesSymbol] = {}
    letters: set[str] = {"?"}
    for place, (code, name) in enumerate(names.items()):
        letter = _letter(name, code, letters)
        letters.add(letter)
        symbols[code] = SpeciesSymbol(code, name, *_colour_and_shape(place), letter, _mark(place))
    symbols[""] = SpeciesSymbol("", "species not given", UNKNOWN_COLOUR, "circle", "?")
    return symbols


def _colour_and_shape(place: int) -> tuple[str, str]:
    return OKABE_ITO[place % len(OKABE_ITO)], SHAPES[place % len(SHAPES)]


def _mark(place: int) -> str:
    return MARKS[place // (len(OKABE_ITO) * len(SHAPES)) % len(MARKS)]


def _letter(name: str, code: str, taken: set[str]) -> str:
    """Return the shortest free abbreviation: an initial, two initials, or an initial and a later letter."""
    words = [word for word in re.split(r"[\W\d_]+", name) if word] or [word for word in re.split(r"\W+", code) if word]
    first = words[0][0].upper() if words else "S"
    initials = [first + word[0].lower() for word in words[1:]]
    inside = [first + letter for word in words for letter in plain(word)[1:] if letter.isalpha()]
    for wanted in [first, *initials, *inside]:
        if wanted not in taken:
            return wanted
    return next(wanted for number in count(2) if (wanted := f"{first}{number}") not in taken)
