"""How dense a stand is: spacing, density indices, and stockings that follow from crowns."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from farmmap.figures.areas import M2_PER_HA
from farmmap.figures.stand import basal_area_m2

Floats = NDArray[np.float64]
Layout = Literal["square", "triangle"]

REINEKE_SLOPE = 1.605
"""Slope of the line of equal density on logarithmic scales (Reineke 1933)."""

TEN_INCHES_CM, METRIC_CM = 25.4, 25.0
"""Diameters to which the index is reduced: ten inches, as published, and the 25 cm of some metric tables. [cm]"""

TRIANGLE = math.sqrt(2 / math.sqrt(3))
"""Spacing on equal triangles for each metre of spacing on squares, at the same stocking: 1.074570."""

KRAJICEK_FT, KRAJICEK_FT_PER_INCH = 3.12, 1.829
"""Crown of open-grown oak and hickory: base [ft] and slope [ft/in]."""

FOOT_M, INCH_CM = 0.3048, 2.54


def spacing_m(stems_per_ha: ArrayLike, layout: Layout = "square") -> Floats:
    """Mean spacing at a stocking: √(10 000 ÷ N), times 1.0746 on equal triangles (textbook), in m."""
    square = np.sqrt(M2_PER_HA / np.asarray(stems_per_ha, float))
    return square * TRIANGLE if layout == "triangle" else square


def relative_spacing(stems_per_ha: ArrayLike, top_height_m: ArrayLike, layout: Layout = "square") -> Floats:
    """Spacing as a part of top height; often given in percent.

    S = √(10 000 ÷ N) ÷ h_top. Sources (from memory): H. M. J. Hart (1928),
    Stamtal en dunning, Wageningen, on squares; J. H. Becking (1954), spacing on
    equal triangles, which is 1.0746 times as wide.
    """
    return spacing_m(stems_per_ha, layout) / np.asarray(top_height_m, float)


def stand_density_index(stems_per_ha: ArrayLike, qmd_cm: ArrayLike, reference_cm: float = TEN_INCHES_CM) -> Floats:
    """Stand density index: stems a hectare that would be as dense at the reference diameter.

    SDI = N·(Dq ÷ reference)^1.605. Source: L. H. Reineke (1933), Perfecting a
    stand-density index for even-aged forests, J. Agric. Res. 46, 627–638.

    Parameters
    ----------
    stems_per_ha : array_like
        Stocking. [/ha]
    qmd_cm : array_like
        Quadratic mean diameter. [cm]
    reference_cm : float
        25.4 cm (ten inches) as published; some metric tables take 25, which gives 1.0258 times as much. [cm]
    """
    return np.asarray(stems_per_ha, float) * (np.asarray(qmd_cm, float) / reference_cm) ** REINEKE_SLOPE


def summed_density_index(
    dbh_cm: ArrayLike, area_ha: float, stems: ArrayLike = 1, reference_cm: float = TEN_INCHES_CM
) -> float | None:
    """Stand density index added up tree by tree: Σ(d ÷ reference)^1.605 ÷ A, for stands of uneven sizes.

    Never above that from the quadratic mean. Source: J. N. Long and T. W.
    Daniel (1990), Assessment of growing stock in uneven-aged stands, West. J.
    Appl. For. 5, 93–96 (from memory).

    Parameters
    ----------
    dbh_cm : array_like, shape (n,)
        Diameters; those that are not known add nothing. [cm]
    area_ha : float
        Net area. [ha]
    stems : array_like, shape (n,)
        How many stems each diameter stands for.
    reference_cm : float
        As for `stand_density_index`. [cm]

    Returns
    -------
    float or None
        None where there is no area. [/ha]
    """
    if not area_ha > 0:
        return None
    parts = (np.asarray(dbh_cm, float) / reference_cm) ** REINEKE_SLOPE * np.asarray(stems, float)
    return float(np.nansum(parts)) / area_ha


def stems_at_density(index: ArrayLike, qmd_cm: ArrayLike, reference_cm: float = TEN_INCHES_CM) -> Floats:
    """Stocking that has a stand density index at a quadratic mean diameter, /ha: `stand_density_index` turned round."""
    return np.asarray(index, float) / (np.asarray(qmd_cm, float) / reference_cm) ** REINEKE_SLOPE


def relative_density(basal_area_m2_per_ha: ArrayLike, qmd_cm: ArrayLike) -> Floats:
    """Curtis's relative density: G ÷ √Dq, with G in m²/ha and Dq in cm.

    In ft²/acre and inches the same stand has another number. Source: R. O.
    Curtis (1982), A simple index of stand density for Douglas-fir, For. Sci.
    28, 92–94 (from memory).
    """
    return np.asarray(basal_area_m2_per_ha, float) / np.sqrt(np.asarray(qmd_cm, float))


def crown_competition_factor(open_crown_m: ArrayLike, area_ha: float) -> float | None:
    """Crown competition factor: ground that the trees' crowns would take if each stood free, in percent of the area.

    Source: J. E. Krajicek, K. A. Brinkman and S. F. Gingrich (1961), Crown
    competition – a measure of density, For. Sci. 7, 35–42 (from memory).

    Parameters
    ----------
    open_crown_m : array_like, shape (n,)
        Diameter of the crown that each tree would have standing free; nan adds nothing. [m]
    area_ha : float
        Net area. [ha]

    Returns
    -------
    float or None
        None where there is no area. [%]
    """
    if not area_ha > 0:
        return None
    return 100.0 * float(np.nansum(np.square(np.asarray(open_crown_m, float)))) * math.pi / 4 / (area_ha * M2_PER_HA)


def open_oak_crown_m(dbh_cm: ArrayLike) -> Floats:
    """Crown of an oak or hickory that stands free: 3.12 ft + 1.829 ft an inch (Krajicek and others 1961), in m."""
    return (KRAJICEK_FT + KRAJICEK_FT_PER_INCH * np.asarray(dbh_cm, float) / INCH_CM) * FOOT_M


def stems_for_crowns(
    dbh_cm: ArrayLike, crown_to_stem: ArrayLike, layout: Literal["square", "triangle", "whole ground"] = "square"
) -> Floats:
    """Stocking at which crowns of a width just meet, /ha.

    On squares 10 000 ÷ (k·d)², on equal triangles 1.1547 times as many; "whole
    ground": as many crowns as would cover all ground if they left no gaps.
    Source: H. C. Dawkins (1963), Crown diameters: their relation to bole
    diameter in tropical forest trees, Commonw. For. Rev. 42, 318–333 (the
    ratio; from memory).

    Parameters
    ----------
    dbh_cm : array_like
        Stem diameter aimed at. [cm]
    crown_to_stem : array_like
        Crown diameter in stem diameters.
    layout : {"square", "triangle", "whole ground"}
        How the trees stand.
    """
    square = M2_PER_HA / np.square(np.asarray(crown_to_stem, float) * np.asarray(dbh_cm, float) / 100.0)
    return square * {"square": 1.0, "triangle": TRIANGLE**2, "whole ground": 4 / math.pi}[layout]


def stems_for_basal_area(dbh_cm: ArrayLike, dbh_to_basal_area: float) -> Floats:
    """Stocking at which d ÷ G is a given ratio, with d in cm and G in m²/ha: N = (d ÷ ratio) ÷ g, in /ha."""
    dbh = np.asarray(dbh_cm, float)
    return dbh / dbh_to_basal_area / basal_area_m2(dbh)


def crown_to_stem(crown_m: ArrayLike, dbh_cm: ArrayLike) -> Floats:
    """Crown diameter in stem diameters; nan where either is not known.

    Free-standing broadleaves have 24 to 27 (Coombes, Martin and Slater 2019,
    Urban For. Urban Green. 44, 126421), about 20 in stands is common practice.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.asarray(crown_m, float) * 100.0 / np.asarray(dbh_cm, float)
    return np.where(np.isfinite(ratio), ratio, np.nan)
