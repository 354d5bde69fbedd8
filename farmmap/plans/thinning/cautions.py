"""What to look out for before a thinning: wind, sudden light, lines, water, native plants, and who fells."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.figures.margins import margins
from farmmap.figures.prepared import prepared
from farmmap.figures.standing import is_ahead
from farmmap.plans.thinning.stand import BlockTrees

SLENDER = 80.0
"""Height ÷ diameter from which trees sway and fall in wind more easily. Common practice, from memory."""

VERY_SLENDER = 100.0
"""Height ÷ diameter from which trees are called unstable. Common practice, from memory."""

TALL_M = 15.0
"""Trees are called tall from here: late thinnings are those that the wind finds. Common practice, from memory. [m]"""

EDGE_M = 10.0
"""Trees so near the edge of their block shelter the rest. [m]"""

EDGE_SHARE = 0.25
"""Share of the trees at the edge from which taking them is cautioned."""

FALL_M = 20.0
"""How far a tree of unknown height is taken to fall. [m]"""

FELLING = "Felling is work for trained people with the right gear, and never alone."
LOCAL = "check your local code and ask a licensed practitioner first"


def cautions_of(trees: BlockTrees, mark: NDArray[np.object_], caution_percent: float) -> tuple[str, ...]:
    """Return what to look out for, each said once; nothing if no tree goes.

    Parameters
    ----------
    trees : BlockTrees
        The trees of the block.
    mark : ndarray of str, shape (n,)
        A mark for each.
    caution_percent : float
        Share of the basal area from which a heavy thinning is cautioned. [%]
    """
    goes = mark == "take"
    if not goes.any():
        return ()
    return (
        *_wind(trees, goes, caution_percent),
        *_edge(trees, goes),
        *_lines(trees, goes),
        *_water(trees, goes),
        *_native(trees, goes),
        FELLING,
    )


def _wind(trees: BlockTrees, goes: NDArray[np.bool_], caution_percent: float) -> Iterator[str]:
    basal, stays = trees.basal_area_m2, ~goes
    together = float(basal.sum())
    share = 100 * float(basal[goes].sum()) / together if together > 0 else 100 * float(goes.mean())
    of = "basal area" if together > 0 else "stems"
    with np.errstate(invalid="ignore", divide="ignore"):
        slender = (100 * trees.height_m / trees.dbh_cm)[stays]
    ahead = is_ahead(trees.farm, trees.on)
    if ahead:
        slender = np.zeros(0)  # heights are as last measured while diameters are forecast
    known = slender[np.isfinite(slender)]
    middle = float(np.median(known)) if len(known) else float("nan")
    tall = trees.height_m[stays]
    tall_m = float(np.nanmedian(tall)) if np.isfinite(tall).any() else float("nan")
    if share > caution_percent:
        late = f" and trees about {tall_m:.0f} m tall" if tall_m >= TALL_M else ""
        yield (
            f"{share:.0f} % of the {of} goes at once{late}: trees that stood in shelter may be thrown by wind or burnt "
            "by sudden light, and may shoot along the stem. Two lighter thinnings some years apart are safer."
        )
    if middle >= SLENDER:
        much = "very slender" if middle >= VERY_SLENDER else "slender"
        yield (
            f"The trees that stay are {much} (height about {middle:.0f} times the diameter; under {SLENDER:.0f} is "
            "stable): take few at a time, and none from the windward side first."
        )
    elif not len(known) and share > caution_percent / 2:
        why = "Heights are not forecast" if ahead else "No tree that stays has both a height and a diameter"
        yield f"{why}, so how well those that stay stand against wind cannot be told."


def _edge(trees: BlockTrees, goes: NDArray[np.bool_]) -> Iterator[str]:
    outline = shapely.boundary(trees.farm.blocks.geometry.loc[trees.block])  # a track through the block is no edge
    away = shapely.distance(prepared(outline), shapely.points(trees.x, trees.y)) / trees.scale
    edge = away <= EDGE_M
    if edge.any() and not edge.all() and goes[edge].mean() > EDGE_SHARE:
        yield (
            f"{int(goes[edge].sum())} of {int(edge.sum())} trees within {EDGE_M:.0f} m of the edge go: the edge "
            "shelters the rest, leave it thick on the windward side."
        )


def _lines(trees: BlockTrees, goes: NDArray[np.bool_]) -> Iterator[str]:
    hazards = trees.farm.hazards
    here = (hazards["stage"] == "existing").to_numpy(bool)
    points = shapely.points(trees.x[goes], trees.y[goes])
    height = trees.height_m[goes]
    fall = np.where(np.isfinite(height), height, FALL_M)
    for kind, words in (
        ("power line", "could reach a power line: keep people and machines clear, and ask the network company before"),
        ("building", "could reach a building"),
    ):
        which = here & (hazards["kind"] == kind).to_numpy(bool)
        reach = np.zeros(len(points), bool)
        for shape, clear in zip(hazards.geometry[which], hazards["clear_m"][which].fillna(0.0), strict=True):
            reach |= shapely.distance(prepared(shape), points) / trees.scale <= fall + float(clear)
        if reach.any():
            one = "One tree that goes" if reach.sum() == 1 else f"{int(reach.sum())} trees that go"
            yield f"{one} {words}."


def _water(trees: BlockTrees, goes: NDArray[np.bool_]) -> Iterator[str]:
    points = shapely.points(trees.x[goes], trees.y[goes])
    inside = np.zeros(len(points), bool)
    for margin in margins(trees.farm):
        if margin.polygon.intersects(trees.net.envelope):
            inside |= shapely.intersects(prepared(margin.polygon), points)
    if inside.any():
        one = "One tree that goes stands" if inside.sum() == 1 else f"{int(inside.sum())} trees that go stand"
        yield f"{one} in a creek margin: {LOCAL}, and leave no slash in the channel."


def _native(trees: BlockTrees, goes: NDArray[np.bool_]) -> Iterator[str]:
    known = trees.farm.species
    native = {str(code) for code in known["code"][(known["origin"] == "native").to_numpy(bool)]}
    of = np.array([name in native for name in trees.there.species_names], bool)
    count = int(of[trees.species[goes]].sum()) if len(of) else 0
    if count:
        one = "One tree that goes is" if count == 1 else f"{count} trees that go are"
        yield f"{one} of a native species, which may be protected: {LOCAL}."
