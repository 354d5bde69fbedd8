"""The part with what to ask and to check before work begins: a list to tick, from what is on the map."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from farmmap.editing.words import listed
from farmmap.farm.farm import Farm
from farmmap.scene.page_flow import Flowing
from farmmap.scene.page_flow_text import Paragraph
from farmmap.sheets.pack.context import PackContext
from farmmap.sheets.pack.pack_table import Column, PackTable
from farmmap.sheets.page_words import CHECK_FIRST, NOT_A_SURVEY

NEAR_M = 60.0
"""Things so near to a planting are asked about."""


@dataclass(frozen=True)
class Check:
    """Something to ask or to check.

    Attributes
    ----------
    what : str
        What it is.
    why : str
        Why it is on the list.
    caution : str
        The usual caution.
    """

    what: str
    why: str
    caution: str


def permissions_intro(pack: PackContext) -> str:
    """Say whose rules hold."""
    del pack
    return (
        "What to ask and to check before work begins, from what is on the map. Rules differ from place to place: check "
        "your local code and ask a licensed practitioner."
    )


def permissions(pack: PackContext) -> Iterator[Flowing | PackTable]:
    """List of checks with boxes to tick, and what holds for every map."""
    checks = tuple(checks_of(pack))
    columns = (
        Column("what", ("To ask or check",), words=True, about="What it is."),
        Column("why", ("Why it is here",), words=True, about="What on the map asks for it."),
        Column("caution", ("Usual caution",), words=True, about="What is commonly asked."),
        Column("answer", ("Asked whom, answer, day",), words=True, about="To fill in."),
    )
    rows = tuple((check.what, check.why, check.caution, "") for check in checks)
    yield PackTable("permissions", "", columns, rows, rows, written_on=True, boxes=True)
    yield Paragraph(f"{NOT_A_SURVEY} {CHECK_FIRST}", note=True)


def checks_of(pack: PackContext) -> Iterator[Check]:
    """Return what to ask and to check: what the map asks for, then what every work does."""
    near = _near(pack)
    yield from _water(pack, near)
    yield from _lines(near)
    yield from _growth(pack)
    yield Check("Consent of the landowner", "Every work on the land", "In writing, with the map, before work begins.")
    yield Check(
        "Neighbours", "Fences, shade and spray reach over boundaries", "Tell them early; agree on shared fences."
    )
    yield Check(
        "Cultural heritage",
        "Digging, ripping and tracks",
        "Ask those who know the place and its register before digging; stop if something is found.",
    )
    yield Check(
        "Pipes and wires underground", "Digging and driving posts", "Have the lines of others marked before you dig."
    )
    yield Check(
        "Other agreements on this ground", "A site that is already contracted may not be paid for again",
        "Compare with covenants, grants and carbon agreements.",
    )  # fmt: skip
    yield Check(
        "Clean plants and tools",
        "Plants, machines and boots carry weeds and disease",
        "Source stock free of soil; wash down before entry.",
    )


def _near(pack: PackContext) -> Farm:
    """Return what lies near the plans; all of the farm without one."""
    grounds = [shapely.box(*one.bounds) for one in pack.plans if one.bounds is not None]
    if not grounds:
        return pack.without
    around = shapely.buffer(shapely.union_all(grounds), NEAR_M)
    kept = {
        name: table[shapely.intersects(table["geometry"].to_numpy(), around)]
        for name, table in pack.without.tables.items()
        if "geometry" in table.columns
    }
    return pack.without.with_tables(**kept)


def _water(pack: PackContext, near: Farm) -> Iterator[Check]:
    names = sorted({str(name) for name in near.creeks["name"] if name})
    if len(near.creeks):
        yield Check(
            "Works in or beside water", listed(names) or "A creek",
            "Works in bed and banks commonly need consent, and are kept out of the season of spawning fish.",
        )  # fmt: skip
        yield Check(
            "Spray beside water", listed(names) or "A creek",
            "Try without first; only labels for that place, never in wind or before rain, and never into the water.",
        )  # fmt: skip
    crossings = _crossings(near) + sum(one.report.needed.floodgates for one in pack.plans)
    if crossings:
        yield Check(
            "Crossings and floodgates", f"{crossings} where a track or new fence crosses a creek",
            "Leave the way free for fish; never cross in flood; stock crossings commonly need consent.",
        )  # fmt: skip
    troughs = sum(one.report.needed.troughs for one in pack.plans)
    if troughs:
        yield Check("Water take", f"{troughs} troughs planned", "Taking water for stock may need a licence.")
    if any(one.report.needed.fence_m for one in pack.plans):
        yield Check(
            "Fence beside water", "New fence along the creek",
            "Keep it out of the reach of floods, or build it so that it can be lost without the rest.",
        )  # fmt: skip


def _lines(near: Farm) -> Iterator[Check]:
    kinds = set(near.hazards["kind"].tolist())
    if "power line" in kinds:
        yield Check(
            "Power line", "On the map",
            "Ask the network company before planting, pruning or felling near it; mind how high trees will grow.",
        )  # fmt: skip
    if "pipeline" in kinds:
        yield Check("Pipeline", "On the map", "Ask its owner before you dig or plant; it may have an easement.")
    if "drain" in kinds:
        yield Check("Drain", "On the map", "Leave one side open for the digger; ask who looks after it.")


def _growth(pack: PackContext) -> Iterator[Check]:
    stands = bool((pack.without.trees["stage"] == "existing").any())
    if stands:
        yield Check(
            "Native and standing vegetation", "Trees stand on or near the ground",
            "Clearing or trimming, for a fence line too, may be protected: ask before anything is cut.",
        )  # fmt: skip
    marked = int((pack.without.trees["mark"] == "take").sum())
    harvest = any(zone.harvest for one in pack.plans for zone in one.plan.recipe.zones)
    if marked or harvest:
        why = (
            f"{marked:,} trees are marked to be taken".replace(",", "\u202f") if marked else "Zones are to be harvested"
        )
        yield Check(
            "Felling", why,
            "Felling may need a licence, and trees may be protected; it is among the most dangerous work: trained "
            "people, two tree lengths kept clear.",
        )  # fmt: skip


def _crossings(near: Farm) -> int:
    """Return how many tracks cross a creek."""
    creeks = near.creeks.geometry.to_numpy()
    if not len(creeks) or not len(near.tracks):
        return 0
    pairs = shapely.STRtree(creeks).query(near.tracks.geometry.to_numpy(), "crosses")
    return len(np.unique(pairs, axis=1).T)
