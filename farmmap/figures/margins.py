"""Creek margins: the ground beside each bank, and its figures."""

from __future__ import annotations

import datetime as dt
import itertools
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.areas import M2_PER_HA, areas_m2, lengths_m, polygons_only
from farmmap.figures.bank_walk import BankWalk, across_the_flow, walk
from farmmap.figures.banks import SIDES, bank_line, channel, joined, pieces, side_ground
from farmmap.figures.blocks import Row, cover, crown_map, tree_index
from farmmap.figures.creek_lines import Creek, creeks_of
from farmmap.figures.rectangles import bounds_met
from farmmap.figures.remembered import Remembered
from farmmap.figures.result import FigureTable
from farmmap.figures.standing import Standing, later_note, standing, the_day
from farmmap.figures.united import united

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

WIDER = 1.01
"""Crowns are looked for on ground this much wider than the margin, for the corners of its round ends."""


@dataclass(frozen=True)
class Water:
    """Channels and lines of all creeks, and the farm's boundary if it has one."""

    channels: shapely.Geometry
    lines: shapely.Geometry
    boundary: shapely.Geometry | None


@dataclass(frozen=True, eq=False)
class Margin:
    """Ground beside one bank of one creek.

    Attributes
    ----------
    index : int
        Place in the list of margins.
    of : Creek
        The creek.
    side : int
        0 for the left bank, 1 for the right, looking downstream.
    polygon : shapely Polygon or MultiPolygon
        The ground, on the farm's grid.
    line : shapely LineString or MultiLineString
        The bank inside the farm, on the farm's grid.
    area_ha, length_m : float
        Ground area and length of bank on the ellipsoid. [ha, m]
    water : Water
        What it may not look across, and out of what.
    """

    index: int
    of: Creek
    side: int
    polygon: shapely.Geometry
    line: shapely.Geometry
    area_ha: float
    length_m: float
    water: Water

    @property
    def creek(self) -> str:
        """Name of the creek."""
        return self.of.name

    @property
    def creek_ids(self) -> tuple[int, ...]:
        """Rows of ``farm.creeks`` that the creek is drawn by."""
        return self.of.ids

    @property
    def bank(self) -> str:
        """``left`` or ``right``, looking downstream."""
        return SIDES[self.side]

    @property
    def scale(self) -> float:
        """Grid metres for a metre of ground at the middle of the creek."""
        return self.of.scale

    @property
    def width_m(self) -> float:
        """Width asked for; the widest where stretches differ. [m]."""
        return max(r.widths[self.side] for r in self.of.reaches) / self.scale

    @cached_property
    def walked(self) -> BankWalk:
        """Steps along the bank; worked out when a figure asks for them, as the map does not."""
        return walk(self.line, self.of.reaches, self.side)

    @property
    def crown_look(self) -> Floats:
        """How far each step looks for crowns. [grid m]."""
        return self._looks[0]

    @property
    def fence_look(self) -> Floats:
        """How far each step looks for fences. [grid m]."""
        return self._looks[1]

    @cached_property
    def _looks(self) -> tuple[Floats, Floats]:
        """How far each step of the bank looks for crowns and for fences, in grid m.

        It looks over the bank's own ground only: not across a creek, nor onto the
        ground of the other bank; for crowns not out of the farm either. A farm's
        fence often runs along its boundary, so for fences it may.
        """
        walked, water = self.walked, self.water
        widest = max(r.widths[self.side] for r in self.of.reaches)
        beyond = np.maximum(FENCE_WITHIN_LEAST_M * self.scale, FENCE_WITHIN * walked.width)
        further = max(FENCE_WITHIN_LEAST_M * self.scale, FENCE_WITHIN * widest)
        own = shapely.difference(side_ground(self.of.reaches, self.side, further), water.channels)
        seen = walked.clear(own, water.lines, walked.width + beyond)
        for_crowns = np.minimum(seen, walked.width)
        if water.boundary is not None:
            for_crowns = walked.clear(polygons_only(water.boundary), shapely.LineString(), for_crowns)
        return for_crowns, seen


_MARGINS: Remembered[list[Margin]] = Remembered(4)
_GROUND: Remembered[Floats] = Remembered(2)
_FENCED: Remembered[list[float]] = Remembered(4)
_CROWNED: Remembered[list[Row]] = Remembered(4)
_STOCKED: Remembered[list[Row]] = Remembered(4)
_ROWS: Remembered[tuple[Row, ...]] = Remembered(4)


def margins(farm: Farm) -> list[Margin]:
    """Return the margins of all existing creeks, by creek in the order drawn, left bank first.

    Rows of one name are one creek. The ground runs from the bank (half the
    channel off a centre line, or a bank line itself) outwards by the width,
    ends flat, and is cut to the farm's boundary if there is one. Channels of
    all creeks are taken out of every margin. Ground that two creeks claim goes
    to the one drawn first; ground that both banks of one creek claim goes to
    the nearer. A creek drawn as a bank line has that bank's margin only.
    """
    return _MARGINS.get(*_key(farm), lambda: _drawn(farm))


def _key(farm: Farm) -> tuple[tuple[object, ...], tuple[object, ...]]:
    return (farm.creeks, farm.boundary), (farm.settings.margin_m, farm.grid)


def margin_figures(farm: Farm, on: dt.date | None = None, *, quick: bool = False) -> FigureTable:
    """Return the figures of every creek margin, a row each.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        The day; None for the day of the newest measurement.
    quick : bool
        Where the exact cover is not at hand, count it along rows, within 0.1 %, for while something moves.

    Returns
    -------
    FigureTable
        ``ids`` are the places in `margins`.
    """
    there = standing(farm, the_day(farm, on))
    drawn = margins(farm)
    parts = (drawn, _fenced(farm, drawn), _crowned(there, drawn, quick=quick), _stocked(farm, there, drawn))
    rows = _ROWS.get(parts, (), lambda: tuple(itertools.starmap(_row, zip(*parts, strict=True))))
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
    inside = united(shapely.make_valid(farm.boundary.geometry.to_numpy()))
    if len(farm.boundary) and not shapely.intersects(lines, inside).any():
        return (f"All creeks of the farm ({len(creeks)}) lie outside its boundary, so they have no margins on it.",)
    return (
        "Where the creeks run inside the farm's boundary their margins are 0 m wide or no ground is left for them.",
    )


def _notes(farm: Farm, there: Standing) -> tuple[str, ...]:
    cut = "cut to the farm's boundary" if len(farm.boundary) else "the farm has no boundary to cut them to"
    how = "forecast for" if there.forecast else "as measured on or before"
    return (
        f"Trees and crowns {how} {there.on.isoformat()}; left and right looking downstream.",
        f"Margins run level from the bank (half the channel off a centre line), each bank by itself; {cut}.",
        "Fenced: an existing fence on the bank's own side within the width and a quarter more (at least 2 m more).",
        "Cover: ground under crowns, counted once. Gap: bank with no crown on its own side within the margin's width.",
        *later_note(farm, there.on),
    )


def _drawn(farm: Farm) -> list[Margin]:
    creeks = creeks_of(farm)
    water = Water(
        united([channel(creek.reaches) for creek in creeks]),
        shapely.MultiLineString([reach.line for creek in creeks for reach in creek.reaches]),
        united(shapely.make_valid(farm.boundary.geometry.to_numpy())) if len(farm.boundary) else None,
    )
    claimed: shapely.Geometry = shapely.Polygon()
    out: list[Margin] = []
    for creek in creeks:
        taken = claimed
        others = united([channel(other.reaches) for other in creeks if other is not creek])
        for side in range(len(SIDES)):
            ground = side_ground(creek.reaches, side)
            line = joined(shapely.difference(bank_line(creek.reaches, side, ground), others))
            polygon = shapely.difference(shapely.difference(ground, water.channels), taken)
            if water.boundary is not None:
                polygon = shapely.intersection(polygon, water.boundary)
                line = joined(shapely.intersection(line, water.boundary))
            polygon = polygons_only(polygon)
            if polygon.is_empty and line.is_empty:
                continue
            claimed = united([claimed, polygon])
            out.append(_margin(farm, (creek, side), (polygon, line), len(out), water))
    return out


def _margin(
    farm: Farm,
    of: tuple[Creek, int],
    shapes: tuple[shapely.Geometry, shapely.Geometry],
    index: int,
    water: Water,
) -> Margin:
    (creek, side), (polygon, line) = of, shapes
    begins, ends, _ = pieces(shapely.get_parts(line))
    steps = np.stack([begins, ends], axis=1)[across_the_flow(begins, ends, creek.reaches)]
    area_ha = float(areas_m2([polygon], farm.grid)[0]) / M2_PER_HA
    length_m = float(lengths_m([line], farm.grid)[0] - lengths_m(shapely.linestrings(steps), farm.grid).sum())
    return Margin(index, creek, side, polygon, line, area_ha, length_m, water)


def margins_after(before: Farm, after: Farm, there: tuple[Standing, Standing], boxes: dict[str, Floats]) -> None:
    """Keep what is known of margins after an edit, working out again only those that it touched.

    Parameters
    ----------
    before, after : Farm
        The farm before and after an edit that left its creeks and its boundary alone.
    there : tuple of Standing
        Trees that count before and after.
    boxes : mapping of str to ndarray, shape (k, 4)
        Rectangles on which ``fences``, ``crowns`` and ``stems`` changed. [m]
    """
    drawn = _MARGINS.find(*_key(before))
    if drawn is None or _MARGINS.find(*_key(after)) is not drawn:
        return
    fenced = _FENCED.find(*_fenced_key(before, drawn))
    if fenced is not None and before.fences is not after.fences:
        again = _touched(drawn, boxes["fences"])
        fresh = dict(zip(again, _fenced_of(after, [drawn[place] for place in again]), strict=True))
        _FENCED.put(*_fenced_key(after, drawn), [fresh.get(place, old) for place, old in enumerate(fenced)])
    crowned = _CROWNED.find((drawn, there[0]))
    if crowned is not None and there[0] is not there[1]:
        again = _touched(drawn, boxes["crowns"])
        new = dict(zip(again, _crowned_of(there[1], [drawn[place] for place in again]), strict=True))
        _CROWNED.put((drawn, there[1]), (), [new.get(place, old) for place, old in enumerate(crowned)])
    stocked = _STOCKED.find(_stocked_key(before, there[0], drawn))
    if stocked is not None and (there[0] is not there[1] or before.trees is not after.trees):
        again = _touched(drawn, boxes["stems"])
        new = dict(zip(again, _stocked_of(after, there[1], [drawn[place] for place in again]), strict=True))
        key = _stocked_key(after, there[1], drawn)
        _STOCKED.put(key, (), [new.get(place, old) for place, old in enumerate(stocked)])


def _touched(drawn: list[Margin], boxes: Floats) -> list[int]:
    """Places of the margins whose ground, with as far as they look, meets any of some rectangles."""
    return np.flatnonzero(bounds_met(_GROUND.get((drawn,), (), lambda: _looked_at(drawn)), boxes)).tolist()


def _looked_at(drawn: list[Margin]) -> Floats:
    """Rectangle around the ground of each margin and as far as it looks, shape (n, 4)."""
    look = [
        max(float(np.max(margin.fence_look, initial=0.0)), float(np.max(margin.crown_look, initial=0.0)))
        for margin in drawn
    ]
    ground = np.array([shapely.total_bounds([margin.polygon, margin.line]) for margin in drawn]).reshape(-1, 4)
    return ground + np.array(look).reshape(-1, 1) * np.array([-1, -1, 1, 1])


def _fenced_key(farm: Farm, drawn: list[Margin]) -> tuple[tuple[object, ...], tuple[object, ...]]:
    return (drawn, farm.fences), ()


def _fenced(farm: Farm, drawn: list[Margin]) -> list[float]:
    """Share of each bank that is fenced."""
    return _FENCED.get(*_fenced_key(farm, drawn), lambda: _fenced_of(farm, drawn))


def _fenced_of(farm: Farm, some: list[Margin]) -> list[float]:
    fences = farm.fences.geometry.to_numpy()[(farm.fences["stage"] == "existing").to_numpy(bool)]
    return [margin.walked.share_meeting(fences, margin.fence_look) for margin in some]


def _crowned(there: Standing, drawn: list[Margin], *, quick: bool) -> list[Row]:
    """Cover of each margin, and its longest gap."""
    if quick and _CROWNED.find((drawn, there)) is None:
        return _crowned_of(there, drawn, quick=True)
    return _CROWNED.get((drawn, there), (), lambda: _crowned_of(there, drawn))


def _crowned_of(there: Standing, some: list[Margin], *, quick: bool = False) -> list[Row]:
    crowns = crown_map(there)
    out: list[Row] = []
    for margin in some:
        scale = margin.scale
        near = crowns.reaching(margin.line.buffer(margin.width_m * scale * WIDER), scale)
        met = margin.walked.under_crowns(crowns.x[near], crowns.y[near], crowns.radius[near] * scale, margin.crown_look)
        covered = cover(crowns, margin.polygon, margin.area_ha, scale, quick=quick)
        out.append(covered | {"longest_gap_m": _longest_gap(margin, met)})
    return out


def _stocked_key(farm: Farm, there: Standing, drawn: list[Margin]) -> tuple[object, ...]:
    return (drawn, there, farm.trees, farm.species)


def _stocked(farm: Farm, there: Standing, drawn: list[Margin]) -> list[Row]:
    """Stems of each margin, and how many of them are native."""
    return _STOCKED.get(_stocked_key(farm, there, drawn), (), lambda: _stocked_of(farm, there, drawn))


def _row(margin: Margin, fenced: float, covered: Row, stems: Row) -> Row:
    length = margin.length_m
    return {
        "creek": margin.creek,
        "bank": margin.bank,
        "width_m": margin.width_m,
        "area_ha": margin.area_ha,
        "length_m": length,
        "mean_width_m": margin.area_ha * M2_PER_HA / length if length > 0 else None,
        "fenced_percent": 100.0 * fenced if length > 0 else None,
        "fenced_m": fenced * length,
        "cover_percent": covered["crown_cover_percent"],
        "crown_area_ha": covered["crown_area_ha"],
        "crown_estimated_percent": covered["crown_estimated_percent"],
        "longest_gap_m": covered["longest_gap_m"],
        **stems,
    }


def _longest_gap(margin: Margin, met: NDArray[np.bool_]) -> float:
    if margin.walked.total <= 0:
        return 0.0
    return margin.walked.longest_run(~met) * margin.length_m / margin.walked.total


def _stocked_of(farm: Farm, there: Standing, some: list[Margin]) -> list[Row]:
    listed = dict(reversed(list(zip(farm.species["code"], farm.species["origin"], strict=True))))
    origins = np.array([listed.get(name, "") for name in there.species_names], object)
    out: list[Row] = []
    for margin in some:
        inside = there.at_row(tree_index(farm).inside(margin.polygon))
        kinds = there.species[inside[inside >= 0]]
        native = int((origins[kinds] == "native").sum()) if len(kinds) else 0
        known = int((origins[kinds] != "").sum()) if len(kinds) else 0
        out.append(
            {
                "stems": len(kinds),
                "native": native,
                "native_percent": 100.0 * native / known if known else None,
                "unknown_origin": len(kinds) - known,
            }
        )
    return out
