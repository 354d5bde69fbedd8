"""Creek margins: the ground beside each bank, and its figures."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.areas import M2_PER_HA, areas_m2, lengths_m, polygons_only
from farmmap.figures.bank_walk import BankWalk, across_the_flow, walk
from farmmap.figures.banks import SIDES, bank_line, channel, joined, pieces, side_ground
from farmmap.figures.blocks import cover, crown_map, tree_index
from farmmap.figures.creek_lines import Creek, creeks_of
from farmmap.figures.remembered import Remembered
from farmmap.figures.result import FigureTable
from farmmap.figures.standing import Standing, later_note, standing, the_day

COLUMNS = (
    "creek",
    "bank",
    "width_m",
    "area_ha",
    "length_m",
    "mean_width_m",
    "fenced_percent",
    "cover_percent",
    "crown_estimated_percent",
    "longest_gap_m",
    "stems",
    "native_percent",
    "unknown_origin",
)
BRIEF = (
    "creek",
    "bank",
    "area_ha",
    "length_m",
    "mean_width_m",
    "fenced_percent",
    "cover_percent",
    "longest_gap_m",
    "stems",
    "native_percent",
)
Floats = NDArray[np.float64]

FENCE_WITHIN = 0.25
"""A fence counts this part of the margin's width beyond its outer edge."""

FENCE_WITHIN_LEAST_M = 2.0


@dataclass(frozen=True, eq=False)
class Margin:
    """Ground beside one bank of one creek.

    Attributes
    ----------
    index : int
        Place in the list of margins.
    creek : str
        Name of the creek.
    bank : str
        ``left`` or ``right``, looking downstream.
    polygon : shapely Polygon or MultiPolygon
        The ground, on the farm's grid.
    line : shapely LineString or MultiLineString
        The bank inside the farm, on the farm's grid.
    width_m : float
        Width asked for; the widest where stretches differ. [m]
    area_ha, length_m : float
        Ground area and length of bank on the ellipsoid. [ha, m]
    scale : float
        Grid metres for a metre of ground at the middle of the creek.
    creek_ids : tuple of int
        Rows of ``farm.creeks`` that the creek is drawn by.
    walked : BankWalk
        Steps along the bank.
    crown_look, fence_look : ndarray
        How far each step looks for crowns and for fences. [grid m]
    """

    index: int
    creek: str
    bank: str
    polygon: shapely.Geometry
    line: shapely.Geometry
    width_m: float
    area_ha: float
    length_m: float
    scale: float
    creek_ids: tuple[int, ...]
    walked: BankWalk
    crown_look: Floats
    fence_look: Floats


@dataclass(frozen=True)
class _Water:
    """Channels and lines of all creeks, and the farm's boundary if it has one."""

    channels: shapely.Geometry
    lines: shapely.Geometry
    boundary: shapely.Geometry | None


_MARGINS: Remembered[list[Margin]] = Remembered(4)


def margins(farm: Farm) -> list[Margin]:
    """Return the margins of all existing creeks, by creek in the order drawn, left bank first.

    Rows of one name are one creek. The ground runs from the bank (half the
    channel off a centre line, or a bank line itself) outwards by the width,
    ends flat, and is cut to the farm's boundary if there is one. Channels of
    all creeks are taken out of every margin. Ground that two creeks claim goes
    to the one drawn first; ground that both banks of one creek claim goes to
    the nearer. A creek drawn as a bank line has that bank's margin only.
    """
    key = (farm.settings.margin_m, farm.settings.epsg)
    return _MARGINS.get((farm.creeks, farm.boundary), key, lambda: _drawn(farm))


def margin_figures(farm: Farm, on: dt.date | None = None) -> FigureTable:
    """Return the figures of every creek margin, a row each.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        The day; None for the day of the newest measurement.

    Returns
    -------
    FigureTable
        ``ids`` are the places in `margins`.
    """
    there = standing(farm, the_day(farm, on))
    drawn = margins(farm)
    rows = tuple(_row(farm, there, margin) for margin in drawn)
    title = f"Creek margins of {farm.settings.name}, {there.on.isoformat()}"
    notes = _notes(farm, there) if drawn else _why_none(farm)
    return FigureTable("margins", title, COLUMNS, rows, tuple(m.index for m in drawn), notes, BRIEF)


def _why_none(farm: Farm) -> tuple[str, ...]:
    """Why a farm shows no margins, in words."""
    if not len(farm.creeks):
        return ("The farm has no creeks yet; margins are drawn along its creeks.",)
    creeks = creeks_of(farm)
    if not creeks:
        return ("None of the farm's creeks exists yet (they are only planned); planned creeks have no margins.",)
    lines = [reach.line for creek in creeks for reach in creek.reaches]
    if all(max(reach.widths) <= 0 for creek in creeks for reach in creek.reaches):
        return ("The margins of all creeks are 0 m wide: give a creek a left or right margin above 0.",)
    inside = shapely.union_all(shapely.make_valid(farm.boundary.geometry.to_numpy()))
    if len(farm.boundary) and not shapely.intersects(lines, inside).any():
        return (f"All creeks of the farm ({len(creeks)}) lie outside its boundary, so they have no margins on it.",)
    return (
        "Where the creeks run inside the farm's boundary their margins are 0 m wide or no ground is left for them.",
    )


def _notes(farm: Farm, there: Standing) -> tuple[str, ...]:
    cut = "cut to the farm's boundary" if len(farm.boundary) else "the farm has no boundary to cut them to"
    return (
        f"Trees and crowns as measured on or before {there.on.isoformat()}; left and right looking downstream.",
        f"Margins run level from the bank (half the channel off a centre line), each bank by itself; {cut}.",
        "Fenced: an existing fence on the bank's own side within the width and a quarter more (at least 2 m more).",
        "Cover: ground under crowns, counted once. Gap: bank with no crown on its own side within the margin's width.",
        *later_note(farm, there.on),
    )


def _drawn(farm: Farm) -> list[Margin]:
    creeks = creeks_of(farm)
    water = _Water(
        shapely.union_all([channel(creek.reaches) for creek in creeks]),
        shapely.MultiLineString([reach.line for creek in creeks for reach in creek.reaches]),
        shapely.union_all(shapely.make_valid(farm.boundary.geometry.to_numpy())) if len(farm.boundary) else None,
    )
    claimed: shapely.Geometry = shapely.Polygon()
    out: list[Margin] = []
    for creek in creeks:
        taken = claimed
        others = shapely.union_all([channel(other.reaches) for other in creeks if other is not creek])
        for side, bank in enumerate(SIDES):
            ground = side_ground(creek.reaches, side)
            line = joined(shapely.difference(bank_line(creek.reaches, side, ground), others))
            polygon = shapely.difference(shapely.difference(ground, water.channels), taken)
            if water.boundary is not None:
                polygon = shapely.intersection(polygon, water.boundary)
                line = joined(shapely.intersection(line, water.boundary))
            polygon = polygons_only(polygon)
            if polygon.is_empty and line.is_empty:
                continue
            claimed = shapely.union(claimed, polygon)
            out.append(_margin(farm, creek, (side, bank), (polygon, line), len(out), water))
    return out


def _margin(
    farm: Farm,
    creek: Creek,
    of: tuple[int, str],
    shapes: tuple[shapely.Geometry, shapely.Geometry],
    index: int,
    water: _Water,
) -> Margin:
    (side, bank), (polygon, line) = of, shapes
    walked = walk(line, creek.reaches, side)
    crown_look, fence_look = _looks(walked, creek, side, water)
    begins, ends, _ = pieces(shapely.get_parts(line))
    steps = np.stack([begins, ends], axis=1)[across_the_flow(begins, ends, creek.reaches)]
    return Margin(
        index=index,
        creek=creek.name,
        bank=bank,
        polygon=polygon,
        line=line,
        width_m=max(r.widths[side] for r in creek.reaches) / creek.scale,
        area_ha=float(areas_m2([polygon], farm.grid)[0]) / M2_PER_HA,
        length_m=float(lengths_m([line], farm.grid)[0] - lengths_m(shapely.linestrings(steps), farm.grid).sum()),
        scale=creek.scale,
        creek_ids=creek.ids,
        walked=walked,
        crown_look=crown_look,
        fence_look=fence_look,
    )


def _looks(walked: BankWalk, creek: Creek, side: int, water: _Water) -> tuple[Floats, Floats]:
    """How far each step of a bank looks for crowns and for fences, in grid m.

    It looks over the bank's own ground only: not across a creek, nor onto the
    ground of the other bank; for crowns not out of the farm either. A farm's
    fence often runs along its boundary, so for fences it may.
    """
    widest = max(r.widths[side] for r in creek.reaches)
    beyond = np.maximum(FENCE_WITHIN_LEAST_M * creek.scale, FENCE_WITHIN * walked.width)
    further = max(FENCE_WITHIN_LEAST_M * creek.scale, FENCE_WITHIN * widest)
    own = shapely.difference(side_ground(creek.reaches, side, further), water.channels)
    seen = walked.clear(own, water.lines, walked.width + beyond)
    for_crowns = np.minimum(seen, walked.width)
    if water.boundary is not None:
        for_crowns = walked.clear(polygons_only(water.boundary), shapely.LineString(), for_crowns)
    return for_crowns, seen


def _row(farm: Farm, there: Standing, margin: Margin) -> dict[str, object]:
    scale, width = margin.scale, margin.width_m
    length = margin.length_m
    fences = farm.fences.geometry.to_numpy()[(farm.fences["stage"] == "existing").to_numpy(bool)]
    fenced = margin.walked.share_meeting(fences, margin.fence_look)
    crowns = crown_map(there)
    covered = cover(crowns, margin.polygon, margin.area_ha, scale)
    near = crowns.reaching(margin.line.envelope.buffer(width * scale), scale)
    met = margin.walked.under_crowns(crowns.x[near], crowns.y[near], crowns.radius[near] * scale, margin.crown_look)
    return {
        "creek": margin.creek,
        "bank": margin.bank,
        "width_m": width,
        "area_ha": margin.area_ha,
        "length_m": length,
        "mean_width_m": margin.area_ha * M2_PER_HA / length if length > 0 else None,
        "fenced_percent": 100.0 * fenced if length > 0 else None,
        "fenced_m": fenced * length,
        "cover_percent": covered["crown_cover_percent"],
        "crown_area_ha": covered["crown_area_ha"],
        "crown_estimated_percent": covered["crown_estimated_percent"],
        "longest_gap_m": _longest_gap(margin, met),
        **_stems(farm, there, margin),
    }


def _longest_gap(margin: Margin, met: NDArray[np.bool_]) -> float:
    if margin.walked.total <= 0:
        return 0.0
    return margin.walked.longest_run(~met) * margin.length_m / margin.walked.total


def _stems(farm: Farm, there: Standing, margin: Margin) -> dict[str, object]:
    inside = np.intersect1d(tree_index(farm).inside(margin.polygon), there.places)
    kinds = there.species[np.searchsorted(there.places, inside)]
    origin = farm.species.drop_duplicates("code").set_index("code")["origin"].reindex(list(there.species_names))
    origins = origin.fillna("").to_numpy(object)
    native = int((origins[kinds] == "native").sum()) if len(kinds) else 0
    known = int((origins[kinds] != "").sum()) if len(kinds) else 0
    return {
        "stems": len(inside),
        "native": native,
        "native_percent": 100.0 * native / known if known else None,
        "unknown_origin": len(inside) - known,
    }
