"""Final stocking from target diameter and crown width, and the least distance between crop trees that follows."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.species import CROWN_PER_CM
from farmmap.figures.areas import M2_PER_HA
from farmmap.figures.growth.targets import one_target, target_cm_of, targets_of
from farmmap.figures.stand import basal_area_m2
from farmmap.plans.thinning.stand import BlockTrees

Floats = NDArray[np.float64]

TRIANGLE = 2.0 / math.sqrt(3.0)
"""Stems on equal triangles for each stem on squares of the same side."""

LEAST_SHARE = 0.6
"""Least distance between crop trees in parts of their mean distance at the final stocking; wider where trees allow.

Trees are never on squares: at the full distance far fewer would be found, and poor ones among them. Common practice.
"""

RATIO = 2.0
"""Diameter in cm ÷ basal area in m²/ha below which many farm foresters thin. Common practice."""

USUAL_TARGET_CM = 60.0
"""Target where neither the farm nor the list that comes with farmmap has one. Common practice. [cm]"""


def stems_by_crown_per_ha(crown_m: float, layout: str = "squares") -> float:
    """Return how many crowns of a width a hectare holds.

    Parameters
    ----------
    crown_m : float
        Width of a crown at the target diameter: crown per cm of stem × target. [m]
    layout : str
        ``squares``: 10 000 ÷ K²; ``triangles``: × 2 ÷ √3, touching on equal triangles; ``ground``: 10 000 ÷ (π ÷ 4 ·
        K²), crowns as large together as the ground.

    Notes
    -----
    The idea of crown width ÷ stem diameter as a guide to stocking is that of H. C. Dawkins (1963), Crown diameters:
    their relation to bole diameter in tropical forest trees, Commonwealth Forestry Review 42, 318-333 (from memory).
    """
    per_ha = M2_PER_HA / crown_m**2
    return per_ha * {"squares": 1.0, "triangles": TRIANGLE, "ground": 4.0 / math.pi}[layout]


def stems_by_ratio_per_ha(target_cm: float, ratio: float) -> float:
    """Return the stocking at which diameter [cm] ÷ basal area [m²/ha] is a ratio: N = (d ÷ ratio) ÷ g.

    Source: common practice of farm foresters, who thin once the basal area in m²/ha passes half of the diameter in cm
    (ratio 2); the ratio as an index was studied in Forest Ecology and Management in 2006.
    """
    return target_cm / ratio / float(basal_area_m2(target_cm))


def spacing_m(stems_per_ha: float) -> float:
    """Return the mean spacing, as of stems on squares: √(10 000 ÷ N). [m]."""
    return math.sqrt(M2_PER_HA / stems_per_ha)


@dataclass(frozen=True)
class FinalStocking:
    """What a block is to hold in the end.

    Attributes
    ----------
    target_cm : float
        Mean target diameter of its trees. [cm]
    crown_m : float
        Mean crown width at the target. [m]
    stems_per_ha : float
        Final stocking. [/ha]
    least_m : float
        Least distance between crop trees. [ground m]
    words : str
        How it was come by.
    """

    target_cm: float
    crown_m: float
    stems_per_ha: float
    least_m: float
    words: str


def final_stocking(
    trees: BlockTrees, target_cm: float | None = None, stems_per_ha: float | None = None, least_m: float | None = None
) -> FinalStocking:
    """Return the final stocking of a block.

    Crown width at the target is the species' own (crown of the thinnest stem + crown per cm × target), the mean over
    the trees of the block; stems stand on squares of that width. What the grower gives goes before it.

    Parameters
    ----------
    trees : BlockTrees
        The trees of the block.
    target_cm : float, optional
        Target diameter of all species. [cm]
    stems_per_ha : float, optional
        Final stocking. [/ha]
    least_m : float, optional
        Least distance between crop trees. [ground m]
    """
    targets, crowns, usual = crowns_at_target(trees, target_cm)
    target, crown = (float(values.mean()) if len(values) else math.nan for values in (targets, crowns))
    if not len(targets):
        target = USUAL_TARGET_CM if target_cm is None else target_cm
        crown = CROWN_PER_CM * target
    said = f"target {target:.0f} cm" + (" (common practice, as there is none for some of the species)" if usual else "")
    if stems_per_ha is not None:
        words = f"final stocking {stems_per_ha:.0f} stems/ha, as given"
    else:
        stems_per_ha = stems_by_crown_per_ha(crown)
        triangles = stems_by_crown_per_ha(crown, "triangles")
        words = (
            f"final stocking {stems_per_ha:.0f} stems/ha: {said}, crowns of {crown:.1f} m by then, standing on squares "
            f"({triangles:.0f} on triangles; {stems_by_ratio_per_ha(target, RATIO):.0f} by the rule that basal area in "
            "m²/ha stays under half of the diameter in cm)"
        )
    if least_m is None:
        least_m = LEAST_SHARE * spacing_m(stems_per_ha)
    return FinalStocking(target, crown, float(stems_per_ha), float(least_m), words)


def crowns_at_target(trees: BlockTrees, target_cm: float | None = None) -> tuple[Floats, Floats, bool]:
    """Return each tree's target and its crown by then, shape (n,), and whether common practice stood in for a target.

    Targets are in cm, crowns in m.
    """
    names, known = trees.there.species_names, trees.farm.species
    aims = targets_of(trees.farm) if target_cm is None else one_target(target_cm)
    each = target_cm_of(aims, names)
    usual = bool(np.isnan(each[trees.species]).any()) if len(trees) else False
    each = np.where(np.isnan(each), USUAL_TARGET_CM, each)
    listed = known.drop_duplicates("code")
    base = dict(zip(listed["code"], listed["crown_base_m"].fillna(0.0), strict=True))
    slope = dict(zip(listed["code"], listed["crown_per_cm"].fillna(CROWN_PER_CM), strict=True))
    wide = np.array([base.get(name, 0.0) for name in names]) + each * np.array(
        [slope.get(name, CROWN_PER_CM) for name in names]
    )
    wide = np.maximum(wide, 0.1)
    return each[trees.species], wide[trees.species], usual
