"""Shapes that can be kept: what cannot is refused in words, what is a slip of the hand is mended and said."""

from __future__ import annotations

import re

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from farmmap.editing.parts import gathered, rings_of, shape_of, simple_parts
from farmmap.editing.words import area_words, listed, place_words, table_of
from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.farm.grids import LOCAL_M
from farmmap.farm.schema import Geometry

Floats = NDArray[np.float64]

TOUCH_M = 0.001
"""Corners this close are one corner; a corner this close to an edge lies on it. [m]"""

MENDED_M2 = 1.0
"""A loop or crumb up to this size, and up to `MENDED_SHARE` of the whole, is a slip of the hand. [m²]"""
MENDED_SHARE = 0.01

SPIKE_M = 2.0
"""An outline that goes out and back along one line for up to this far is mended. [m]"""

LEAST_M2 = 0.01
"""An area smaller than this encloses no ground. [m²]"""

OFF_GRID_DEG = 2.0
"""How far outside the ground for which a grid is meant a farm may still lie. [degrees]"""

FAR_M = 20_000.0
"""What is drawn this far from everything else on the farm is likely in the wrong place. [m]"""

_MANY = 1000
"""Of more places than this the rectangle around them is looked at."""

_PLACE = re.compile(r"\[\s*(\S+)\s+([^\s\]]+)")


def sound_shape(table: str, shape: shapely.Geometry | None, what: str) -> tuple[shapely.Geometry, tuple[str, ...]]:
    """Return a shape as a table may keep it.

    Parameters
    ----------
    table : str
        Table that it is for.
    shape : geometry
        On the farm's grid. [m]
    what : str
        What it is, for messages: ``block North Terrace``.

    Returns
    -------
    shape : geometry
        Valid, without repeated corners.
    notes : tuple of str
        What was mended.

    Raises
    ------
    BadInput
        It is of the wrong kind, has too few corners, encloses no ground, or crosses itself.
    """
    if shape is None or shape.is_empty:
        raise BadInput(f"{what}: nothing is drawn yet; give its corners first")
    if not np.isfinite(shapely.get_coordinates(shape)).all():
        raise BadInput(f"{what}: a corner has no place (its coordinates are no numbers); draw it again")
    parts = simple_parts(shape)
    _right_kind(table, parts, what)
    notes: list[str] = []
    sound = [_sound_part(part, what, notes) for part in parts]
    whole = gathered(sound)
    if not whole.is_valid:
        raise BadInput(f"{what}: {_why_unsound(whole)}")
    return whole, tuple(notes)


def still_sound(shape: shapely.Geometry, what: str) -> shapely.Geometry:
    """Return a reshaped shape, corners at one place taken as one; refuse one that crosses itself or has no ground.

    Raises
    ------
    BadInput
        With the place, where there is one.
    """
    rings, kinds = rings_of(shape)
    closed = [kind == shapely.GeometryType.POLYGON for kind in kinds]
    tidy = [[without_repeats(ring, closed=shut) for ring in part] for part, shut in zip(rings, closed, strict=True)]
    for part, kind in zip(tidy, kinds, strict=True):
        least = {shapely.GeometryType.POINT: 1, shapely.GeometryType.POLYGON: 3}.get(kind, 2)
        if min(len(ring) for ring in part) < least:
            needs = "an area needs at least three" if least == 3 else "a line needs at least two"
            raise BadInput(f"{what}: {needs} corners in different places; keep its corners apart")
    same = all(new is old for one, other in zip(tidy, rings, strict=True) for new, old in zip(one, other, strict=True))
    out = shape if same else shape_of(tidy, kinds)
    for part, shut in zip(tidy, closed, strict=True):
        for ring in part if shut else []:
            if not out.is_valid:
                _refuse_crossing(ring, what)
            _refuse_empty(shapely.Polygon(ring), what)
    if not out.is_valid:
        raise BadInput(f"{what}: {_why_unsound(out)}")
    return out


def without_repeats(corners: Floats, *, closed: bool) -> Floats:
    """Return corners without those that lie within 1 mm of the one before, shape (m, 2)."""
    steps = np.hypot(*np.diff(np.concatenate([corners, corners[:1]]) if closed else corners, axis=0).T)
    if (steps > TOUCH_M).all():
        return corners
    kept: list[Floats] = []
    for corner in corners:
        if not kept or np.hypot(*(corner - kept[-1])) > TOUCH_M:
            kept.append(corner)
    while closed and len(kept) > 1 and np.hypot(*(kept[-1] - kept[0])) <= TOUCH_M:
        kept.pop()
    return np.array(kept).reshape(-1, 2)


def first_crossing(ring: Floats) -> tuple[float, float, int, int] | None:
    """Find where a ring crosses or touches itself.

    Parameters
    ----------
    ring : ndarray, shape (n, 2)
        Corners; the last is joined to the first.

    Returns
    -------
    tuple or None
        x and y of the place, and the two sides, each numbered by the corner it starts from, counted from 0.
    """
    count = len(ring)
    ends = np.roll(ring, -1, axis=0)
    sides = shapely.linestrings(np.stack([ring, ends], axis=1))
    one, other = shapely.STRtree(sides).query(sides, predicate="intersects")
    apart = (other > one + 1) & ~((one == 0) & (other == count - 1))
    one, other = one[apart], other[apart]
    if len(one):
        order = np.lexsort((other, one))
        at = shapely.get_coordinates(shapely.intersection(sides[one[order[0]]], sides[other[order[0]]]))[0]
        return float(at[0]), float(at[1]), int(one[order[0]]), int(other[order[0]])
    return None


def refuse_off_grid(farm: Farm, places: ArrayLike, what: str) -> None:
    """Refuse places that do not lie where the farm's grid is in use.

    Parameters
    ----------
    farm : Farm
        The farm.
    places : array_like, shape (n, 2)
        On its grid. [m]
    what : str
        What is drawn there, for the message.

    Raises
    ------
    BadInput
        With the place.
    """
    at = np.asarray(places, float).reshape(-1, 2)
    if len(at) > _MANY and np.isfinite(at).all():
        (west, south), (east, north) = at.min(axis=0), at.max(axis=0)
        at = np.array([(west, south), (east, south), (east, north), (west, north)])
    odd = ~np.isfinite(at).all(axis=1)
    if odd.any():
        raise BadInput(f"{what}: a corner has no place (its coordinates are no numbers); draw it again")
    if farm.grid.local:
        off = (np.abs(at) >= LOCAL_M).any(axis=1)
        meant = "the farm is measured from a corner post, so its coordinates are small"
    else:
        off = ~_in_use(farm, at)
        meant = f"the farm's grid is {farm.grid.name} ({farm.grid.label}); are east and north changed round?"
    if off.any():
        raise BadInput(f"{what}: {place_words(*at[off][0])} does not lie on the farm's grid; {meant}")


def far_note(farm: Farm, places: ArrayLike, what: str) -> tuple[str, ...]:
    """Say that something lies far from the rest of the farm; nothing if it does not."""
    bounds = farm.bounds()
    if bounds is None:
        return ()
    west, south, east, north = bounds
    at = np.asarray(places, float).reshape(-1, 2)
    off = np.hypot(
        np.maximum(np.maximum(west - at[:, 0], at[:, 0] - east), 0),
        np.maximum(np.maximum(south - at[:, 1], at[:, 1] - north), 0),
    )
    if off.max() <= FAR_M:
        return ()
    return (f"{what} lies {off.max() / 1000:.0f} km from the rest of the farm; is it in the right place?",)


def _in_use(farm: Farm, at: Floats) -> NDArray[np.bool_]:
    lon, lat = farm.grid.lon_lat(at[:, 0], at[:, 1])
    known = np.isfinite(lon) & np.isfinite(lat)
    lon, lat = np.where(known, lon, 0.0), np.where(known, lat, 0.0)
    area = farm.grid.crs.area_of_use
    if area is None:
        return known
    width = (area.east - area.west) % 360
    east = (lon - area.west + OFF_GRID_DEG) % 360
    inside = (
        (east <= width + 2 * OFF_GRID_DEG) & (lat >= area.south - OFF_GRID_DEG) & (lat <= area.north + OFF_GRID_DEG)
    )
    return known & inside


def _right_kind(table: str, parts: list[shapely.Geometry], what: str) -> None:
    found = {part.geom_type for part in parts}
    match table_of(table).geometry:
        case Geometry.POLYGON if found != {"Polygon"}:
            raise BadInput(f"{what}: it is drawn as an area, so it needs at least three corners")
        case Geometry.LINE if found != {"LineString"}:
            raise BadInput(f"{what}: it is drawn as a line of at least two corners, not as {_kind_words(found)}")
        case Geometry.POINT | None:
            raise BadInput(f"{what}: {table_of(table).words.lower()} are not drawn as lines or areas")
        case _:
            return


def _kind_words(found: set[str]) -> str:
    words = {"Polygon": "an area", "LineString": "a line", "Point": "a point"}
    return listed(sorted(words.get(kind, "something else") for kind in found))


def _sound_part(part: shapely.Geometry, what: str, notes: list[str]) -> shapely.Geometry:
    if part.geom_type == "Point":
        return part
    rings, _ = rings_of(part)
    if part.geom_type == "LineString":
        corners = without_repeats(rings[0][0], closed=False)
        if len(corners) < 2:
            raise BadInput(f"{what}: the line has no length; give a second corner away from the first")
        return shapely.LineString(corners)
    sound = [_sound_ring(ring, what, notes) for ring in rings[0]]
    return shapely.Polygon(sound[0], sound[1:])


def _sound_ring(ring: Floats, what: str, notes: list[str]) -> Floats:
    corners = without_repeats(ring, closed=True)
    corners = _without_spikes(corners, what, notes)
    if len(corners) < 3:
        raise BadInput(f"{what}: an area needs at least three corners in different places, not {len(corners)}")
    polygon = shapely.Polygon(corners)
    if len(corners) > 3 and not polygon.is_valid:
        corners = _without_loops(corners, what, notes)
        polygon = shapely.Polygon(corners)
    _refuse_empty(polygon, what)
    return corners


def _refuse_empty(polygon: shapely.Polygon, what: str) -> None:
    if not polygon.area > max(LEAST_M2, TOUCH_M * polygon.length):
        raise BadInput(f"{what}: it encloses no ground, as its corners lie on one line; move a corner off it")


def _without_spikes(corners: Floats, what: str, notes: list[str]) -> Floats:
    """Take out corners at which the outline goes back the way it came."""
    while len(corners) > 3:
        back, on = np.roll(corners, 1, axis=0) - corners, np.roll(corners, -1, axis=0) - corners
        lengths = np.minimum(np.hypot(*back.T), np.hypot(*on.T))
        longest = np.maximum(np.hypot(*back.T), np.hypot(*on.T))
        cross = np.abs(back[:, 0] * on[:, 1] - back[:, 1] * on[:, 0])
        flat = (cross <= TOUCH_M * longest) & ((back * on).sum(axis=1) > 0)
        tips = np.flatnonzero(flat & (lengths <= SPIKE_M))
        if flat.any() and not len(tips):
            raise BadInput(
                f"{what}: at {place_words(*corners[flat][0])} its outline goes {lengths[flat][0]:.0f} m out and back "
                "on one line; take that corner out, or draw the strip as wide as it is"
            )
        if not len(tips):
            return corners
        tip = tips[0]
        notes.append(
            f"{what}: at {place_words(*corners[tip])} the outline went {lengths[tip]:.2g} m out and back on "
            f"one line; that spike was left out"
        )
        corners = without_repeats(np.delete(corners, tip, axis=0), closed=True)
    return corners


def _without_loops(corners: Floats, what: str, notes: list[str]) -> Floats:
    """Leave out a tiny loop where the outline crosses itself; refuse a larger one."""
    parts = [p for p in simple_parts(shapely.make_valid(shapely.Polygon(corners))) if p.geom_type == "Polygon"]
    if parts:
        outlines = [shapely.Polygon(shapely.get_exterior_ring(part)) for part in parts]
        sizes = shapely.area(np.array(outlines, object))
        largest = int(np.argmax(sizes))
        holes = sizes[largest] - shapely.area(parts[largest])
        loops = float(sizes.sum() - sizes[largest] + holes)
        if loops <= min(MENDED_M2, MENDED_SHARE * sizes[largest]):
            crossing = first_crossing(corners)
            at = place_words(*crossing[:2]) if crossing else "one place"
            notes.append(f"{what}: its outline crossed itself at {at}; a loop of {area_words(loops)} was left out")
            return without_repeats(shapely.get_coordinates(outlines[largest])[:-1], closed=True)
    _refuse_crossing(corners, what)
    raise BadInput(f"{what}: {_why_unsound(shapely.Polygon(corners))}")


def _refuse_crossing(ring: Floats, what: str) -> None:
    if shapely.Polygon(ring).is_valid:
        return
    crossing = first_crossing(ring)
    if crossing is None:
        return
    x, y, one, other = crossing
    count = len(ring)
    raise BadInput(
        f"{what}: its outline would cross itself at {place_words(x, y)}, where the side from corner {one + 1} to "
        f"{(one + 1) % count + 1} meets the side from corner {other + 1} to {(other + 1) % count + 1}; "
        "move one of these corners so that the sides stay apart"
    )


def _why_unsound(shape: shapely.Geometry) -> str:
    reason = shapely.is_valid_reason(shape)
    found = _PLACE.search(reason)
    at = f" at {place_words(float(found[1]), float(found[2]))}" if found else ""
    kind = reason.split("[")[0].strip().casefold()
    if "hole" in kind or "nested" in kind or "interior" in kind:
        return f"a hole and the outline would cut the ground apart{at}; keep the hole inside"
    return f"its outline would cross or touch itself{at}; move a corner there so that the sides stay apart"
