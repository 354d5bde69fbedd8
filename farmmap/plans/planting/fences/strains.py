"""Straight strains for a fence: the fewest corners that keep to a corridor, one strain looked ahead.

The corridor is given by gateways across it, one behind the other, each from
an inner end (the planting's side) to an outer one. Two gateways and the
straight lines between their ends enclose ground of the corridor, so a line
that passes through every gateway between its ends never leaves it.
"""

from __future__ import annotations

import math
from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Pair = tuple[float, float]
Ends = tuple[float, float, float, float]
Found = tuple[list[Pair], list[int]]

_ACROSS = (0.5, 0.0, 1.0)
"""Where on the reachable part of a gateway the next strainer may stand, the best to build first."""

_SHARES = (0.5, 0.25, 0.75, 0.125, 0.875, 0.0, 1.0)
"""Where on a gateway one post is tried in the stead of two."""

_HAIR = 1e-9

SLACK = 1e-6
"""A strain that misses a gateway by no more than this passes through it. [grid m]"""


class _Gateways(NamedTuple):
    """Gateways as arrays of inner and outer ends, and x, y of the inner and x, y of the outer end of each."""

    inner: Floats
    outer: Floats
    ends: list[Ends]

    def place(self, at: int, share: float) -> Pair:
        """Place on a gateway."""
        in_x, in_y, out_x, out_y = self.ends[at]
        return in_x + share * (out_x - in_x), in_y + share * (out_y - in_y)


def strainers(inner: Floats, outer: Floats, least: float, *, closed: bool) -> Floats:
    """Return places of strainer posts: straight between them, never outside the corridor.

    From each post the fence runs as straight as the corridor lets it; of three
    places at the last gateway that can be seen, the one is taken from which
    the next strain reaches farthest.

    Parameters
    ----------
    inner, outer : ndarray, shape (n, 2)
        Ends of each gateway, in the order in which they are passed, the outer end to the right.
    least : float
        Two posts nearer each other are made one if they can be. [grid m]
    closed : bool
        Whether the corridor comes back to the first gateway.

    Returns
    -------
    ndarray, shape (k, 2)
        At least two; first and last are the same if closed.
    """
    last = len(inner) - 1
    if closed:
        found = _ring(inner, outer, 0, (inner[0] + outer[0]) / 2, least)
        if found is not None and len(found[0]) > 3:  # it began half-way along a strain: begin at a corner
            posts, at = found
            again = _ring(inner, outer, at[1], np.array(posts[1]), least)
            if again is not None and len(again[0]) <= len(posts):
                found = _half_way_on(inner, outer, at[1], again, least)
    else:
        way = _gateways(inner, outer)
        found = _fewest(way, 0, last, least)
        if found is None and last > 2:  # the ends may stand askew
            inside = _fewest(way, 1, last - 1, least)
            if inside is not None:
                return np.array([way.place(0, 0.5), *inside[0], way.place(last, 0.5)])
    return (inner + outer) / 2 if found is None else np.array(found[0])


def _gateways(inner: Floats, outer: Floats) -> _Gateways:
    columns = (inner[:, 0], inner[:, 1], outer[:, 0], outer[:, 1])
    return _Gateways(inner, outer, list(zip(*(column.tolist() for column in columns), strict=True)))


def _ring(inner: Floats, outer: Floats, first: int, post: Floats, least: float) -> Found | None:
    """Return posts all round from one at some gateway, and their gateways, counted from there; see `_fewest`."""
    return _fewest(_gateways_round(inner, outer, first, post), 0, len(inner) - 1, least)


def _gateways_round(inner: Floats, outer: Floats, first: int, post: Floats) -> _Gateways:
    order = np.append(np.roll(np.arange(len(inner) - 1), -first), first)
    inner, outer = inner[order], outer[order]
    for ends in (inner, outer):
        ends[[0, -1]] = post
    return _gateways(inner, outer)


def _half_way_on(inner: Floats, outer: Floats, first: int, found: Found, least: float) -> Found:
    """Begin a ring half-way on, so that posts near each other where it began are made one as well."""
    posts, at = found
    if len(posts) < 6 or min(math.dist(posts[0], posts[1]), math.dist(posts[-2], posts[-1])) >= least:
        return found
    half, count = len(at) // 2, len(inner) - 1
    posts = [*posts[half:-1], *posts[: half + 1]]
    at = [*(one - at[half] for one in at[half:-1]), *(one - at[half] + count for one in at[: half + 1])]
    _merge_near(_gateways_round(inner, outer, (first + found[1][half]) % count, np.array(posts[0])), posts, at, least)
    return posts, at


def _fewest(way: _Gateways, first: int, last: int, least: float) -> Found | None:
    """Return posts from one gateway to another, and the gateway of each.

    None if rounding, where gateways all but meet, put one amiss.
    """
    here, seen = _best(way, first, last, (0.0, 1.0))
    posts, at = [here], [first]
    while at[-1] < last:
        reached, part = seen
        here, seen = _best(way, reached, last, part)
        posts.append(here)
        at.append(reached)
    if not _keep_to(way, posts, at):
        return None
    _merge_near(way, posts, at, least)
    return posts, at


def _merge_near(way: _Gateways, posts: list[Pair], at: list[int], least: float) -> None:
    """Put one post in the stead of two that stand near each other, wherever the corridor has a place for it."""
    place = 0
    while place < len(posts) - 1 and len(posts) > 2:
        if math.dist(posts[place], posts[place + 1]) < least:
            merged = _one_for_two(way, posts, at, place, least)
            if merged is not None:
                gateway, posts[max(place - 1, 0) : place + 3] = merged
                at[place : place + 2] = [gateway]
                place = max(place - 2, 0)  # those before may now find a place as well
                continue
        place += 1


def _one_for_two(
    way: _Gateways, posts: list[Pair], at: list[int], place: int, least: float
) -> tuple[int, list[Pair]] | None:
    """Gateway of one post in the stead of two, and the post before, this and the next; the last may move as well.

    The first and the last post of all stay on their gateways. No strain as short as that between the two comes of it.
    """
    best, apart = None, math.dist(posts[place], posts[place + 1])
    before, after, last = max(place - 1, 0), min(place + 3, len(posts)), len(posts) - 1
    nexts = [posts[place + 2 : after]]
    if place + 2 == last:
        nexts += [[way.place(at[last], share)] for share in _SHARES]
    first_at = at[last] if place + 1 == last else at[place]
    last_at = at[0] if place == 0 else at[place + 1]
    for gateway in range(first_at, last_at + 1):
        for share, behind in product(_SHARES, nexts):
            merged = [*posts[before:place], way.place(gateway, share), *behind]
            shortest = min(map(math.dist, merged[:-1], merged[1:]))
            if shortest > apart and _keep_to(way, merged, [*at[before:place], gateway, *at[place + 2 : after]]):
                if shortest >= least:
                    return gateway, merged
                best, apart = (gateway, merged), shortest
    return best


def _keep_to(way: _Gateways, posts: list[Pair], at: list[int]) -> bool:
    """Whether straight strains between posts at some gateways pass through all gateways between these."""
    passed = np.diff(at)
    passed[0] += 1
    x, y = np.array(posts).T
    step_x, step_y = np.diff(x), np.diff(y)
    length = np.maximum(np.sqrt(step_x * step_x + step_y * step_y), _HAIR)
    along_x, along_y, x, y = (np.repeat(of, passed) for of in (step_x / length, step_y / length, x[:-1], y[:-1]))
    near, far = (
        along_x * (end[at[0] : at[-1] + 1, 1] - y) - along_y * (end[at[0] : at[-1] + 1, 0] - x)
        for end in (way.inner, way.outer)
    )
    return bool((near >= -SLACK).all() and (far <= SLACK).all())


def split_evenly(posts: Floats, most: float, whole: NDArray[np.bool_]) -> tuple[Floats, NDArray[np.intp]]:
    """Put posts between others, so that no strain is longer than ``most``, each split evenly, but for the whole ones.

    Returns
    -------
    posts : ndarray, shape (n, 2)
        All the posts.
    owner : ndarray of int, shape (n - 1,)
        The strain that each is a piece of.
    """
    lengths = np.hypot(*np.diff(posts, axis=0).T)
    pieces = np.where(whole, 1, np.maximum(np.ceil(lengths / most - _HAIR), 1)).astype(np.intp)
    owner = np.repeat(np.arange(len(lengths)), pieces)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    share = (step / pieces[owner])[:, None]
    return np.vstack([posts[owner] * (1 - share) + posts[owner + 1] * share, posts[-1:]]), owner


def turns_deg(posts: Floats) -> Floats:
    """Return how much a fence turns at each post, 0 to 180; 0 at the ends of an open one, shape (n,), in degrees."""
    steps = np.diff(posts, axis=0)
    bearing = np.arctan2(steps[:, 1], steps[:, 0])
    turn = np.zeros(len(posts))
    turn[1:-1] = np.diff(bearing)
    if len(posts) > 3 and (posts[0] == posts[-1]).all():
        turn[[0, -1]] = bearing[0] - bearing[-1]
    return np.abs(np.degrees((turn + math.pi) % (2 * math.pi) - math.pi))


def _best(way: _Gateways, at: int, last: int, part: Pair) -> tuple[Pair, tuple[int, Pair]]:
    """Where on a part of gateway ``at`` to set the post, and what can be seen from there."""
    low, high = part
    x, y = way.place(at, low + _ACROSS[0] * (high - low))
    seen = _seen(way.ends, at, last, x, y)
    if high - low >= _HAIR:
        for share in _ACROSS[1:]:
            if seen[0] == last:
                break
            other_x, other_y = way.place(at, low + share * (high - low))
            other = _seen(way.ends, at, last, other_x, other_y)
            if other[0] > seen[0]:
                x, y, seen = other_x, other_y, other
    reached, left_x, left_y, right_x, right_y = seen
    inside = _crossing(way.ends[reached], x, y, left_x, left_y)
    outside = _crossing(way.ends[reached], x, y, right_x, right_y)
    low, high = 0.0 if inside is None else inside, 1.0 if outside is None else outside
    return (x, y), (reached, (low, high) if low <= high else ((low + high) / 2,) * 2)


def _seen(ends: list[Ends], at: int, last: int, x: float, y: float) -> tuple[int, float, float, float, float]:
    """Farthest gateway that is seen from a place on gateway ``at``, and the lines of sight that bound what is seen.

    The two lines of sight, to the left and to the right, that just pass all gateways so far close in, gateway by
    gateway, until none is left.
    """
    if at == last:
        return last, 0.0, 0.0, 0.0, 0.0
    in_x, in_y, out_x, out_y = ends[at + 1]
    left_x, left_y, right_x, right_y = in_x - x, in_y - y, out_x - x, out_y - y
    for place in range(at + 2, last + 1):
        in_x, in_y, out_x, out_y = ends[place]
        in_x, in_y, out_x, out_y = in_x - x, in_y - y, out_x - x, out_y - y
        nearer = left_x * in_y < left_y * in_x  # its inner end stands in the way
        farther = right_x * out_y > right_y * out_x
        if (nearer and in_x * right_y > in_y * right_x) or (farther and left_x * out_y > left_y * out_x):
            return place - 1, left_x, left_y, right_x, right_y
        if nearer:
            left_x, left_y = in_x, in_y
        if farther:
            right_x, right_y = out_x, out_y
    return last, left_x, left_y, right_x, right_y


def _crossing(gateway: Ends, x: float, y: float, sight_x: float, sight_y: float) -> float | None:
    """Where a line of sight crosses a gateway, as a share from its inner end; None if it runs along it."""
    in_x, in_y, out_x, out_y = gateway
    turned = sight_x * (out_y - in_y) - sight_y * (out_x - in_x)
    if abs(turned) < 1e-12:
        return None
    return min(max((sight_x * (y - in_y) - sight_y * (x - in_x)) / turned, 0.0), 1.0)
