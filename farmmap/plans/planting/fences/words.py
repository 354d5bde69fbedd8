"""What the grower is told of the fences of a planting."""

from __future__ import annotations

from collections.abc import Sequence

from farmmap.farm.heights import Heights
from farmmap.figures.banks import SIDES
from farmmap.plans.planting.fences.crossings import Crossings
from farmmap.plans.planting.plan import FenceLine
from farmmap.plans.planting.recipes.recipe import FenceWish

SHARP_DEG = 30.0
"""A strainer at which the fence turns more than this is spoken of: it needs a stay or a second post; our own limit."""


def bank_words(side: int, crossings: Crossings) -> str:
    """Return where a fence stands, in words."""
    return "round both banks" if crossings.both else f"on the {SIDES[side]} bank"


def said_of(
    lines: Sequence[FenceLine],
    crossings: Sequence[Crossings],
    wish: FenceWish,
    creek: str,
    heights: Heights | None,
) -> list[str]:
    """Return what is to be known of fences, those of a bank together."""
    said: list[str] = []
    where = [bank_words(line.side, met) for line, met in zip(lines, crossings, strict=True)]
    for place in sorted(set(where)):
        own = [at for at, words in enumerate(where) if words == place]
        low = sum(lines[at].flooded_m for at in own)
        others = sum(len(crossings[at].others) for at in own)
        itself = sum(len(crossings[at].own) for at in own)
        angles = [float(angle) for at in own for angle in lines[at].angles_deg if angle > SHARP_DEG]
        if crossings[own[0]].both:
            sides = ", ".join(sorted({SIDES[lines[at].side] for at in own}))
            said.append(
                f"The fence goes round both banks of {creek} in one ring ({sum(lines[at].length_m for at in own):.0f} "
                f"m); it is counted with the {sides} bank."
            )
        if low > 0:
            back = ", the runs back to the bank left out," if wish.ends else ""
            said.append(
                f"{low:.0f} m of the fence {place}{back} lie less than {wish.flood_m:g} m above the creek: build "
                "them so that they can be lost without the rest, or set them further back."
            )
        for count, water in ((others, "another creek"), (itself, f"{creek} itself")):
            if count:
                gates = "a floodgate" if count == 1 else "floodgates"
                said.append(
                    f"The fence {place} crosses {water} {_times(count)}: hang {gates} there, apart from the main "
                    "fence, so that a flood takes only the gate."
                )
        if angles:
            said.append(
                f"The fence {place} turns by more than {SHARP_DEG:g}° at {len(angles)} of its strainers, "
                f"{max(angles):.0f}° at most; these need stays."
            )
    if wish.flood_m > 0 and heights is None and lines:
        said.append(
            f"There is no elevation grid under {creek}, so it was not looked at which spans of the fence a flood may "
            "reach."
        )
    return said


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")
