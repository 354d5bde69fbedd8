"""What pages of every kind say: cautions, which north, and what lies under the map."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from farmmap.errors import BadInput
from farmmap.farm.day_words import in_words
from farmmap.farm.farm import Farm
from farmmap.farm.grids import Grid
from farmmap.figures.magnetic import declination
from farmmap.scene.backdrops import Backdrops
from farmmap.scene.page_north import SAME_DEG, North
from farmmap.scene.scales import LEAST_SCALE, MOST_SCALE
from farmmap.scene.scene import Scene
from farmmap.scene.view import Bounds
from farmmap.sheets.page import SheetOptions

DRAWN_FROM = (
    "It is drawn from the grower's own readings and from public data; the boundary is not cadastral. Do not build, "
    "fence a boundary or settle a dispute by it."
)
NOT_A_SURVEY = f"This map is no survey. {DRAWN_FROM}"
CHECK_FIRST = (
    "Before works in or beside water, near lines or in native vegetation, check your local code and ask a licensed "
    "practitioner."
)
POWER_LINE = (
    "Power line on this map: keep people, trees and machines clear of it, and ask the network company before you "
    "plant, prune or fell near it."
)

LEAST_CHANGE_DEG = 0.05
"""A needle that turns less in a year is said to stay, as changes are written to tenths."""

LEAST_NEEDLE_DEG = 0.05
"""A needle that lies nearer to grid north is said to lie on it."""

BRIEF_ON = ("A6", "A7")
"""Paper on which less is said of norths, and the compass is not drawn, for the map's sake."""

SAID_IN_WORDS = frozenset({"backdrops", "relief", "contours"})
"""Layers under the map that a page names in a sentence, as they need no sample."""


def check_scale(scale: int | None) -> None:
    """Refuse a scale that no page is printed at.

    Raises
    ------
    BadInput
        It cannot be used.
    """
    if scale is not None and not LEAST_SCALE <= scale <= MOST_SCALE:
        least, most = (f"{end:,}".replace(",", " ") for end in (LEAST_SCALE, MOST_SCALE))
        raise BadInput(f"a scale is 1:{least} to 1:{most}, not 1:{scale}")


def under_the_map(scene: Scene) -> Iterable[str]:
    """Say what lies under the map, where the key does not."""
    shown = [entry for entry in scene.key if entry.shown and entry.layer in SAID_IN_WORDS]
    contours = [entry.words.replace("contour", "Contours") for entry in shown if entry.layer == "contours"]
    relief = ["relief lit from the north-west" for entry in shown if entry.layer == "relief"]
    if contours or relief:
        said = "; ".join((*contours, *relief))
        yield f"{said[:1].upper()}{said[1:]}."
    pictures = [entry.words for entry in shown if entry.layer == "backdrops"]
    if pictures:
        yield f"Under the map: {', '.join(pictures)}."


def north_words(
    farm: Farm, bounds: Bounds, options: SheetOptions | None = None, *, true_bearings: bool = False
) -> North:
    """Return which north the arrow shows, how other norths lie to it in the middle of the map, and which grid it is.

    Parameters
    ----------
    farm : Farm
        The farm.
    bounds : tuple of float
        What the map shows. [grid m]
    options : SheetOptions, optional
        Whether it is said how a compass needle lies on the day of printing, and whether there are lines of latitude.
    true_bearings : bool
        Whether a list beside the map gives bearings from true north, which are carried to the compass otherwise.
    """
    options = options or SheetOptions()
    west, south, east, north = bounds
    x, y = (west + east) / 2, (south + north) / 2
    grid = farm.grid
    if grid.local:
        no_compass = ("How a compass needle lies to it is not known either.",) if options.declination else ()
        no_lines = ("There are no latitudes and longitudes on it.",) if options.graticule else ()
        name = f"{grid.name[:1].upper()}{grid.name[1:]}"
        return North(
            ("North of the farm's own plan", "True north is not known.", *no_compass, *no_lines, name,
             "coordinates in metres")
        )  # fmt: skip
    turn = grid.convergence_deg(x, y)
    if abs(turn) < SAME_DEG:
        true = "True north lies on it here."
    else:
        true = f"True north lies {abs(turn):.2f}° {'west' if turn > 0 else 'east'} of it here."
    brief = options.paper.strip().upper() in BRIEF_ON
    needle: float | None = None
    compass: tuple[str, ...] = ()
    if options.declination:
        needle, compass = _compass(grid, x, y, turn, printed_on(options), brief=brief, true_bearings=true_bearings)
    lines = (f"Latitudes and longitudes are on {grid.datum}.",) if options.graticule else ()
    if brief:
        label = f"{grid.label}, {grid.datum}" if options.graticule else grid.label
        return North(("Grid north", true, *compass, label), -turn)
    words = ("Grid north", true, *compass, f"{grid.name}, {grid.label}, coordinates in metres", *lines)
    return North(words, -turn, needle)


def _compass(
    grid: Grid, x: float, y: float, turn: float, on: dt.date, *, brief: bool, true_bearings: bool
) -> tuple[float | None, tuple[str, ...]]:
    """Return where a compass needle points, from grid north, and how to go by it; or why that is not known."""
    lon, lat = grid.lon_lat(x, y)
    try:
        found = declination(float(lat), float(lon), 0.0, on)
    except BadInput as error:
        return None, (f"{str(error)[:1].upper()}{str(error)[1:]}.",)
    needle = (found.degrees - turn + 180.0) % 360.0 - 180.0
    if abs(needle) < LEAST_NEEDLE_DEG:
        points, turned = "along grid north", "A bearing of the map is that of the compass, too."
    else:
        points = f"{abs(needle):.1f}° {'east' if needle > 0 else 'west'} of grid north"
        turned = f"From a bearing of the map to that of the compass: {_carried(needle)}."
    if true_bearings:
        turned += f" From a listed bearing, which is from true north: {_carried(found.degrees)}."
    if brief:
        return needle, (f"A compass needle points {points} ({in_words(on)}; {found.model}).",)
    change = abs(found.yearly_change_deg)
    moves = f"moves {change:.1f}° a year {'eastwards' if found.yearly_change_deg > 0 else 'westwards'}"
    when = f"{in_words(on)}; {moves if change >= LEAST_CHANGE_DEG else 'hardly moves from year to year'}"
    model = f"{found.model}, valid to the end of {found.until.year}"
    return needle, (f"A compass needle points {points} on this map ({when}; {model}).", turned)


def _carried(needle_deg: float) -> str:
    """Say how a bearing is carried to a compass whose needle lies so much east of where the bearing is from."""
    return f"{'take off' if needle_deg > 0 else 'add'} {abs(needle_deg):.1f}°"


def printed_on(options: SheetOptions) -> dt.date:
    """Return the day that a page gives as that of printing."""
    return options.printed_on or dt.datetime.now().astimezone().date()


def not_shown(backdrops: Backdrops, hidden: frozenset[str]) -> Iterable[str]:
    """Say which backdrops are missing from the page, and why."""
    layers = {"picture": "backdrops", "elevation": "relief"}
    for one in backdrops.all:
        if one.shown and one.trouble and layers[one.kind] not in hidden:
            yield f"{one.name} is not on the page: {one.trouble}"


def metres(length_m: float) -> str:
    """Return a length in whole metres, such as ``1 250 m``."""
    return f"{length_m:,.0f} m".replace(",", "\u202f")
