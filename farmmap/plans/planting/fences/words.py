"""What the grower is told of the fences of a planting."""

from __future__ import annotations

from collections.abc import Sequence

from farmmap.farm.heights import Heights
from farmmap.plans.planting.fences.crossings import Crossings
from farmmap.plans.planting.plan import FenceLine
from farmmap.plans.planting.recipes.recipe import FenceWish

SHARP_DEG = 30.0
"""A strainer at which the fence turns more than this is spoken of: it needs a stay or a second post; our own limit."""


def said_of(
    lines: Sequence[FenceLine],
    crossings: Sequence[Crossings],
    wish: FenceWish,
    creek: str,
    heights: Heights | None,
) -> list[str]:
    """Return what is to be known of fences, each thing once for all of them."""
    said: list[str] = []
    rings = [line.length_m for line, met in zip(lines, crossings, strict=True) if met.both]
    if rings:
        ring = "one ring" if len(rings) == 1 else f"{len(rings)} rings"
        said.append(f"The fence goes round both banks of {creek} in {ring} ({sum(rings):.0f} m).")
    low = sum(line.flooded_m for line in lines)
    if low > 0:
        back = ", the runs back to the bank left out," if wish.ends else ""
        said.append(
            f"{low:.0f} m of the fence{back} lie less than {wish.flood_m:g} m above the creek: build them so that "
            "they can be lost without the rest, or set them further back."
        )
    others, itself = (sum(len(met.others) for met in crossings), sum(len(met.own) for met in crossings))
    for count, water in ((others, "another creek"), (itself, f"{creek} itself")):
        if count:
            gates = "a floodgate" if count == 1 else "floodgates"
            said.append(
                f"The fence crosses {water} {_times(count)}: hang {gates} there, apart from the main fence, so that a "
                "flood takes only the gate."
            )
    angles = [float(angle) for line in lines for angle in line.angles_deg if angle > SHARP_DEG]
    if angles:
        said.append(
            f"The fence turns by more than {SHARP_DEG:g}° at {len(angles)} of its strainers, {max(angles):.0f}° at "
            "most; these need stays."
        )
    if wish.flood_m > 0 and heights is None and lines:
        said.append(
            f"There is no elevation grid under {creek}, so it was not looked at which spans of the fence a flood may "
            "reach."
        )
    return said


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")
