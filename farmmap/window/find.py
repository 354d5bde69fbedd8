"""Finding a block, a creek margin or a tree by what is typed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from farmmap.farm.farm import Farm
from farmmap.figures.margins import Margin
from farmmap.scene.scene import Chosen

MOST = 12
"""How many things are offered at once."""


@dataclass(frozen=True)
class Found:
    """One thing that fits what was typed."""

    words: str
    chosen: Chosen


def find_things(farm: Farm, margins: Sequence[Margin], text: str, most: int = MOST) -> list[Found]:
    """Return blocks, margins and trees whose name or tag fits, those that fit best first.

    Parameters
    ----------
    farm : Farm
        The farm.
    margins : sequence of Margin
        Its creek margins.
    text : str
        What was typed; case does not matter.
    most : int
        How many to return at most.
    """
    wanted = text.strip().casefold()
    if not wanted:
        return []
    ranked: list[tuple[int, int, Found]] = []
    for id_, name in farm.blocks["name"].items():
        rank = _rank(str(name), wanted)
        if rank is not None:
            ranked.append((rank, 0, Found(f"{name}, block", Chosen("block", int(str(id_))))))
    for place, margin in enumerate(margins):
        rank = _rank(margin.creek, wanted)
        if rank is not None:
            found = Found(f"{margin.creek}, {margin.bank} bank", Chosen("margin", place))
            ranked.append((rank, 1, found))
    ranked += [(rank, 2, found) for rank, found in _trees(farm, wanted, most)]
    ranked.sort(key=lambda one: one[:2])
    return [found for _, _, found in ranked[:most]]


def _rank(name: str, wanted: str) -> int | None:
    name = name.casefold()
    if name == wanted:
        return 0
    if name.startswith(wanted):
        return 1
    return 2 if wanted in name else None


def _trees(farm: Farm, wanted: str, most: int) -> list[tuple[int, Found]]:
    tags = farm.trees["tag"]
    lower = tags.str.lower()
    found: list[tuple[int, Found]] = []
    same = (lower == wanted).to_numpy(bool)
    for rank, fits in ((0, same), (1, lower.str.startswith(wanted).to_numpy(bool) & ~same)):
        for position in np.flatnonzero(fits)[: most - len(found)]:
            words = f"{tags.iloc[position]}, tree ({farm.trees['species'].iloc[position] or 'species not given'})"
            found.append((rank, Found(words, Chosen("tree", int(farm.trees.index[position])))))
    return found
