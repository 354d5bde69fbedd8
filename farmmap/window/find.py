"""Finding a block, a creek margin or a tree by what is typed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from farmmap.farm.farm import Farm
from farmmap.figures.margins import Margin
from farmmap.scene.scene import Chosen
from farmmap.scene.view import Bounds

ROUND_TREE_M = 20.0
"""How much ground is shown on each side of a tree that was found. [m]"""
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
    blocks = farm.blocks
    for id_, name, stage in zip(blocks.index, blocks["name"], blocks["stage"], strict=True):
        rank = _rank(str(name), wanted)
        if rank is not None:
            ranked.append((rank, 0, Found(f"{name}, {_staged('block', stage)}", Chosen("block", int(id_)))))
    for place, margin in enumerate(margins):
        rank = _rank(margin.creek, wanted)
        if rank is not None:
            found = Found(f"{margin.creek}, {margin.bank} bank", Chosen("margin", place))
            ranked.append((rank, 1, found))
    ranked += [(rank, 2, found) for rank, found in _trees(farm, wanted, most)]
    ranked.sort(key=lambda one: one[:2])
    return [found for _, _, found in ranked[:most]]


def ground_of(farm: Farm, margins: Sequence[Margin], chosen: Chosen) -> Bounds | None:
    """Return a rectangle of ground that shows a thing well, None if it is not there.

    Parameters
    ----------
    farm : Farm
        The farm.
    margins : sequence of Margin
        Its creek margins.
    chosen : Chosen
        What is to be shown.

    Returns
    -------
    tuple of float or None
        x and y of its south-west and north-east corners. [m]
    """
    match chosen.kind:
        case "tree" if chosen.id in farm.trees.index:
            x, y = (float(farm.trees[axis].loc[chosen.id]) for axis in "xy")
            return x - ROUND_TREE_M, y - ROUND_TREE_M, x + ROUND_TREE_M, y + ROUND_TREE_M
        case "block" if chosen.id in farm.blocks.index:
            west, south, east, north = farm.blocks.geometry.loc[chosen.id].bounds
        case "margin" if 0 <= chosen.id < len(margins):
            west, south, east, north = margins[chosen.id].polygon.bounds
        case _:
            return None
    return float(west), float(south), float(east), float(north)


def _staged(kind: str, stage: str) -> str:
    return f"planned {kind}" if stage == "planned" else kind


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
            row = farm.trees.iloc[position]
            words = f"{row['tag']}, {_staged('tree', row['stage'])} ({row['species'] or 'species not given'})"
            found.append((rank, Found(words, Chosen("tree", int(farm.trees.index[position])))))
    return found
