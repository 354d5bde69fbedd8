"""Field sheets of sample plots: the way to them, tables for slopes and angle counts, and boxes to fill in."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from farmmap.figures.sampling.counts import PlotCounts, size_words
from farmmap.figures.sampling.zones import (
    ANGLE_COUNT,
    CIRCLE,
    STRIP,
    along_slope_m,
    gauge_angle_deg,
    limiting_distance_m,
    slope_radius_m,
)
from farmmap.plans.sampling.route import Leg
from farmmap.scene.page_items import Box, Item, Shape, Text, Type, elided, paragraphs
from farmmap.scene.page_tables import PageTable
from farmmap.scene.paper import Paper
from farmmap.scene.sheet_layout import MARGIN_MM

SLOPES_DEG = (5, 10, 15, 20, 25, 30, 35, 40)
TREES_CM = (5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 100)
STEEP_DEG = (0, 10, 20, 30)

LINES_A_PLOT = 16
LINE_MM = 6.0
"""Height of a line to write on; 6 mm at least by common practice. [mm]"""

LEAST_PAGE_MM = 120.0
"""Pages of boxes are no narrower between their margins, on A4. [mm]"""

LEAST_LINES = 12
COLUMNS = (("Species", 0.40), ("Diam. cm", 0.22), ("Counts", 0.18), ("Height m", 0.20))
"""What is written down of each tree, and its share of a box's width."""


STAY = (
    "Go to the middle by bearing and distance, or by GPS, and do not move it: a plot that is moved to where it suits "
    "counts something else. Bearings are from {north}."
)
EDGE = (
    "At the edge of the block count only trees inside. Walk from the middle to each tree near the edge and as far "
    "again beyond it: if that ends outside the block, or on a track or creek left out of it, write 2 under counts."
)


def way_table(legs: Sequence[Leg]) -> PageTable:
    """Return how to walk from plot to plot."""
    return PageTable(
        "way",
        "The way from plot to plot",
        (("Plot",), ("From",), ("Bearing", "°"), ("Distance", "m"), ("East", "m"), ("North", "m")),
        2,
        tuple(
            (leg.name, leg.from_words, _whole(leg.bearing_deg), _tenths(leg.distance_m), f"{leg.x:.0f}", f"{leg.y:.0f}")
            for leg in legs
        ),
        "plot",
        "plots",
        "the boxes for the counts",
    )


def slope_table(radii_m: Sequence[float]) -> PageTable:
    """Return how long the tape is on slopes, and how large a circle laid on the slope, for each level radius."""
    rows = tuple(
        (
            f"{slope}°",
            f"{float(along_slope_m(10.0, slope)):.2f}",
            *(f"{float(slope_radius_m(radius, slope)):.2f}" for radius in radii_m),
        )
        for slope in SLOPES_DEG
    )
    heads = (("Slope",), ("10 m level", "m along"), *((f"radius {radius:.2f}", "m on slope") for radius in radii_m))
    return PageTable("slopes", "On a slope", heads, 1, rows, "slope", "slopes", "the program")


def limits_table(baf_m2: float) -> PageTable:
    """Return up to which distance, level and along slopes, an angle count takes a stem."""
    rows = tuple(
        (str(dbh), *(f"{float(along_slope_m(limiting_distance_m(dbh, baf_m2), slope)):.2f}" for slope in STEEP_DEG))
        for dbh in TREES_CM
    )
    heads = (("Diam.", "cm"), ("level", "m"), *((f"{slope}° slope", "m") for slope in STEEP_DEG[1:]))
    title = f"Angle count, factor {baf_m2:g}, gauge {gauge_angle_deg(baf_m2):.2f}°: counted up to"
    return PageTable("limits", title, heads, 1, rows, "diameter", "diameters", "the program")


def helping_tables(counts: PlotCounts, places: Sequence[int]) -> tuple[PageTable, ...]:
    """Return the tables that plots of these kinds need in the field."""
    shapes = [counts.shapes[place] for place in places]
    radii = sorted({round(shape.radius_m, 2) for shape in shapes if shape.kind == CIRCLE and shape.radius_m > 0})[:3]
    factors = sorted({shape.baf_m2 for shape in shapes if shape.kind == ANGLE_COUNT and shape.baf_m2 > 0})[:2]
    return (slope_table(radii), *(limits_table(factor) for factor in factors))


def field_notes(counts: PlotCounts, places: Sequence[int], north: str) -> tuple[str, ...]:
    """Return what to mind in the field, ``north`` being from where bearings are given."""
    kinds = {counts.shapes[place].kind for place in places}
    notes = [STAY.format(north=north), EDGE, "A tree whose middle stands just on the line counts ½.",
             "No tree in the plot: write “none”; the plot counts all the same."]  # fmt: skip
    if CIRCLE in kinds:
        notes.append("Circles: either hold every tape level, or lay the larger radius of the slope table on the slope.")
    if STRIP in kinds:
        notes.append("Strips: bearing and distance lead to where the strip begins, in the middle of its short side; "
                     "from there it runs by the bearing beside its size. Length and width are level.")  # fmt: skip
    if ANGLE_COUNT in kinds:
        notes.append("Angle count: turn once round and count each stem that is wider than the gauge at breast height; "
                     "measure the distance to the middle of those that are doubtful.")  # fmt: skip
    return tuple(notes)


@dataclass(frozen=True)
class ToFill:
    """One plot whose counts are to be written down.

    Attributes
    ----------
    leg : Leg
        How it is reached.
    size : str
        Its kind and size.
    slope_deg : float
        nan where not known yet. [degrees]
    """

    leg: Leg
    size: str
    slope_deg: float


def plots_to_fill(counts: PlotCounts, legs: Sequence[Leg]) -> tuple[ToFill, ...]:
    """Return what stands over the box of each plot that is walked to."""
    shape = {int(one): counts.shapes[at] for at, one in enumerate(counts.ids.tolist())}
    return tuple(
        ToFill(leg, size_words(shape[leg.plot], leg.runs_deg), shape[leg.plot].slope_deg or math.nan) for leg in legs
    )


def pages_to_fill(
    paper: Paper, title: str, plots: Sequence[ToFill], notes: Sequence[str], type_: Type, map_pages: int = 1
) -> tuple[tuple[Box, ...], ...]:
    """Return pages of boxes to write counts in, as many as it takes.

    Parameters
    ----------
    paper : Paper
        The sheet.
    title : str
        Head of each page.
    plots : sequence of ToFill
        In the order in which they are walked.
    notes : sequence of str
        What to mind in the field, above the boxes.
    type_ : Type
        Sizes of type.
    map_pages : int
        How many pages the map and what has no room beside it take.
    """
    wide, high = paper.width_mm - 2 * MARGIN_MM, paper.height_mm - 2 * MARGIN_MM
    head = type_.style(12.0, "bold")
    told, told_mm = paragraphs((" ".join(notes),), type_.small, wide, type_.width)
    top = head.size_mm * 1.6 + told_mm + type_.gap
    told = tuple(item.moved(0, head.size_mm * 1.6) for item in told)
    gap = 1.6 * type_.gap
    across = max(round(wide / (62 * type_.times)), 1)
    each = (wide - gap * (across - 1)) / across
    of_head = _head_mm(type_)
    down = max(int((high - top + gap) / (of_head + LINES_A_PLOT * LINE_MM + gap)), 1)
    lines = max(int(((high - top + gap) / down - gap - of_head) / LINE_MM), LEAST_LINES)
    pages: list[tuple[Box, ...]] = []
    for first in range(0, len(plots), across * down):
        some = plots[first : first + across * down]
        words = f"{title}: counts" + (f", page {len(pages) + 1 + map_pages}" if len(plots) > across * down else "")
        boxes = [Box("head", 0, 0, wide, top, (Text(0, head.size_mm, words, head), *told)).placed(MARGIN_MM, MARGIN_MM)]
        for number, plot in enumerate(some):
            x = MARGIN_MM + (number % across) * (each + gap)
            y = MARGIN_MM + top + (number // across) * (of_head + lines * LINE_MM + gap)
            boxes.append(_to_fill(plot, type_, each, lines).placed(x, y))
        pages.append(tuple(boxes))
    return tuple(pages)


def _head_mm(type_: Type) -> float:
    return type_.heading.size_mm * 1.5 + 3.6 * type_.body.size_mm * 1.5 + LINE_MM


def _to_fill(plot: ToFill, type_: Type, width: float, lines: int) -> Box:
    """Return the box of one plot."""
    body, small, ink = type_.body, type_.style(6.2, faint=True), type_.theme.ink
    y = type_.heading.size_mm
    items: list[Item] = [Text(0, y, f"Plot {plot.leg.name}", type_.heading)]
    y += type_.heading.size_mm * 0.5
    slope = "slope ______ °" if math.isnan(plot.slope_deg) else f"slope {plot.slope_deg:.0f}°"
    way = f"{_whole(plot.leg.bearing_deg)}°, {_tenths(plot.leg.distance_m)} m from {plot.leg.from_words}"
    for text in (f"{plot.size}; {slope}", way, "day ______________   by ______________"):
        y += body.size_mm * 1.5
        items.append(Text(0, y - body.size_mm * 0.3, elided(text, body, width, type_.width), body))
    y += type_.body.size_mm * 0.9
    x = 0.0
    edges = [0.0]
    for words, share in COLUMNS:
        items.append(Text(x + 0.8, y + LINE_MM * 0.72, words, small))
        x += share * width
        edges.append(x)
    bottom = y + (lines + 1) * LINE_MM
    for line in range(lines + 2):
        at = y + line * LINE_MM
        items.append(Shape(((0.0, at), (width, at)), line=ink, line_mm=0.25 if line < 2 else 0.12))
    items += [Shape(((edge, y), (edge, bottom)), line=ink, line_mm=0.12) for edge in edges]
    return Box("plot", 0, 0, width, bottom, tuple(items))


def _whole(value: float) -> str:
    return "–" if math.isnan(value) else f"{value:.0f}"


def _tenths(value: float) -> str:
    return "–" if math.isnan(value) else f"{value:.1f}"


def plot_bounds(counts: PlotCounts, places: Sequence[int]) -> Iterator[tuple[float, float, float, float]]:
    """Yield rectangles of ground around plots, so that a map shows all of them. [m]."""
    for place in places:
        shape, (x, y) = counts.shapes[place], counts.middles[place].tolist()
        reach = 5.0 if shape.kind == ANGLE_COUNT else math.sqrt(shape.area_m2) if shape.area_m2 > 0 else 5.0
        yield x - reach, y - reach, x + reach, y + reach
