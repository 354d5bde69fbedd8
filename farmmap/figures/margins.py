"""Creek margins: the ground beside each bank, and its figures."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.areas import M2_PER_HA, areas_m2, ground_scale, lengths_m, polygons_only
from farmmap.figures.bank_walk import BankWalk, walk
from farmmap.figures.banks import SIDES, Reach, bank_line, channel, downstream, joined, side_ground
from farmmap.figures.blocks import cover, crown_map, tree_index
from farmmap.figures.remembered import Remembered
from farmmap.figures.result import FigureTable
from farmmap.figures.standing import Standing, standing, the_day

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


@dataclass(frozen=True)
class _Creek:
    name: str
    ids: tuple[int, ...]
    reaches: tuple[Reach, ...]
    scale: float


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
    return FigureTable("margins", title, COLUMNS, rows, tuple(m.index for m in drawn), _notes(farm, there), BRIEF)


def _notes(farm: Farm, there: Standing) -> tuple[str, ...]:
    cut = "cut to the farm's boundary" if len(farm.boundary) else "the farm has no boundary to cut them to"
    return (
        f"Trees and crowns as measured on or before {there.on.isoformat()}; left and right looking downstream.",
        f"Margins run level from the bank (half the channel off a centre line), each bank by itself; {cut}.",
        "Fenced: an existing fence within the width and a quarter more (at least 2 m more) of the bank.",
        "Cover: ground under crowns, counted once. Gap: bank with no crown within the margin's width.",
    )


def _drawn(farm: Farm) -> list[Margin]:
    creeks = _creeks(farm)
    channels = shapely.union_all([channel(creek.reaches) for creek in creeks])
    boundary = shapely.union_all(shapely.make_valid(farm.boundary.geometry.to_numpy())) if len(farm.boundary) else None
    claimed: shapely.Geometry = shapely.Polygon()
    out: list[Margin] = []
    for creek in creeks:
        taken = claimed
        others = shapely.union_all([channel(other.reaches) for other in creeks if other is not creek])
        for side, bank in enumerate(SIDES):
            ground = side_ground(creek.reaches, side)
            line = joined(shapely.difference(bank_line(creek.reaches, side, ground), others))
            polygon = shapely.difference(shapely.difference(ground, channels), taken)
            if boundary is not None:
                polygon = shapely.intersection(polygon, boundary)
                line = joined(shapely.intersection(line, boundary))
            polygon = polygons_only(polygon)
            if polygon.is_empty and line.is_empty:
                continue
            claimed = shapely.union(claimed, polygon)
            out.append(_margin(farm, creek, side, bank, polygon, line, len(out)))
    return out


def _margin(
    farm: Farm, creek: _Creek, side: int, bank: str, polygon: shapely.Geometry, line: shapely.Geometry, index: int
) -> Margin:
    return Margin(
        index=index,
        creek=creek.name,
        bank=bank,
        polygon=polygon,
        line=line,
        width_m=max(r.widths[side] for r in creek.reaches) / creek.scale,
        area_ha=float(areas_m2([polygon], farm.grid)[0]) / M2_PER_HA,
        length_m=float(lengths_m([line], farm.grid)[0]),
        scale=creek.scale,
        creek_ids=creek.ids,
        walked=walk(line, creek.reaches, side),
    )


def _creeks(farm: Farm) -> list[_Creek]:
    """Existing creeks by name, in the order of their lowest id."""
    rows = farm.creeks[farm.creeks["stage"] == "existing"]
    found: list[_Creek] = []
    for name in rows["name"].unique():
        own = rows[rows["name"] == name]
        shapes = own.geometry.to_numpy()
        scale = ground_scale(shapely.union_all(shapes), farm.grid)
        reaches: list[Reach] = []
        for shape, drawn_as, flows, wide, left, right in zip(
            shapes,
            own["drawn_as"],
            own["flows"],
            own["channel_m"],
            own["left_margin_m"],
            own["right_margin_m"],
            strict=True,
        ):
            if shape is None or shape.is_empty:
                continue
            widths = [farm.settings.margin_m if math.isnan(width) else width for width in (left, right)]
            if drawn_as != "centre line":
                widths[1 if drawn_as == "left bank" else 0] = 0.0
            half = 0.0 if drawn_as != "centre line" or math.isnan(wide) else max(wide, 0.0) / 2
            both = (max(widths[0], 0.0) * scale, max(widths[1], 0.0) * scale)
            reaches += [Reach(line, half * scale, both) for line in downstream(shape, flows == "against")]
        if reaches:
            found.append(_Creek(str(name), tuple(map(int, own.index)), _run_together(reaches), scale))
    return found


def _run_together(reaches: list[Reach]) -> tuple[Reach, ...]:
    """Join stretches of the same widths that meet end to beginning, so that no notch is left between them."""
    kinds: dict[tuple[float, tuple[float, float]], list[shapely.LineString]] = {}
    for reach in reaches:
        kinds.setdefault((reach.half, reach.widths), []).append(reach.line)
    out: list[Reach] = []
    for (half, widths), lines in kinds.items():
        merged = shapely.line_merge(shapely.MultiLineString(lines), directed=True)
        out += [Reach(shapely.remove_repeated_points(line), half, widths) for line in shapely.get_parts(merged)]
    return tuple(out)


def _row(farm: Farm, there: Standing, margin: Margin) -> dict[str, object]:
    scale, width = margin.scale, margin.width_m
    length = margin.length_m
    beyond = max(FENCE_WITHIN_LEAST_M, FENCE_WITHIN * width)
    fences = farm.fences.geometry.to_numpy()[(farm.fences["stage"] == "existing").to_numpy(bool)]
    fenced = margin.walked.share_meeting(fences, (width + beyond) * scale)
    crowns = crown_map(there)
    covered = cover(crowns, margin.polygon, margin.area_ha, scale)
    near = crowns.reaching(margin.line.envelope.buffer(width * scale), scale)
    met = margin.walked.under_crowns(crowns.x[near], crowns.y[near], crowns.radius[near] * scale, width * scale)
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
