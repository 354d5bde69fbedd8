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

_ACROSS = (0.5, 0.0, 1.0)
"""Where on the reachable part of a gateway the next strainer may stand, the best to build first."""

_SHARES = (0.5, 0.25, 0.75, 0.125, 0.875, 0.0, 1.0)
"""Where on a gateway one post is tried in the stead of two."""

NEAR_M = 3.0
"""Two posts so near each other are made one if they can be; our own choice. [grid m]"""

_HAIR = 1e-9

SLACK = 1e-6
"""A strain that misses a gateway by no more than this passes through it. [grid m]"""


class _Gateways(NamedTuple):
    """Ends of the gateways, a list each."""

    in_x: list[float]
    in_y: list[float]
    out_x: list[float]
    out_y: list[float]

    def place(self, at: int, share: float) -> Pair:
        """Place on a gateway."""
        x, y = self.in_x[at], self.in_y[at]
        return x + share * (self.out_x[at] - x), y + share * (self.out_y[at] - y)


def strainers(inner: Floats, outer: Floats, *, closed: bool) -> Floats:
    """Return places of strainer posts: straight between them, never outside the corridor.

    From each post the fence runs as straight as the corridor lets it; of three
    places at the last gateway that can be seen, the one is taken from which
    the next strain reaches farthest.

    Parameters
    ----------
    inner, outer : ndarray, shape (n, 2)
        Ends of each gateway, in the order in which they are passed, the outer end to the right.
    closed : bool
        Whether the corridor comes back to the first gateway.

    Returns
    -------
    ndarray, shape (k, 2)
        At least two; first and last are the same if closed.
    """
    last = len(inner) - 1
    if closed:
        found = _ring(inner, outer, 0, (inner[0] + outer[0]) / 2)
        if found is not None and len(found[0]) > 3:  # it began half-way along a strain: begin at a corner
            posts, at = found
            again = _ring(inner, outer, at[1], np.array(posts[1]))
            found = min((one for one in (again, found) if one is not None), key=lambda one: len(one[0]))
    else:
        way = _gateways(inner, outer)
        found = _fewest(way, 0, last)
        if found is None and last > 2:  # the ends may stand askew
            inside = _fewest(way, 1, last - 1)
            if inside is not None:
                return np.array([way.place(0, 0.5), *inside[0], way.place(last, 0.5)])
    return (inner + outer) / 2 if found is None else np.array(found[0])


def _gateways(inner: Floats, outer: Floats) -> _Gateways:
    return _Gateways(inner[:, 0].tolist(), inner[:, 1].tolist(), outer[:, 0].tolist(), outer[:, 1].tolist())


def _ring(inner: Floats, outer: Floats, first: int, post: Floats) -> tuple[list[Pair], list[int]] | None:
    """Return posts all round from one at some gateway, and their gateways, counted from there; see `_fewest`."""
    order = np.append(np.roll(np.arange(len(inner) - 1), -first), first)
    inner, outer = inner[order], outer[order]
    for ends in (inner, outer):
        ends[[0, -1]] = post
    return _fewest(_gateways(inner, outer), 0, len(order) - 1)


def _fewest(way: _Gateways, first: int, last: int) -> tuple[list[Pair], list[int]] | None:
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
    _merge_near(way, posts, at)
    return posts, at


def _merge_near(way: _Gateways, posts: list[Pair], at: list[int]) -> None:
    """Put one post in the stead of two that stand near each other, wherever the corridor has a place for it."""
    place = 1
    while place < len(posts) - 2:
        if math.dist(posts[place], posts[place + 1]) < NEAR_M:
            merged = _one_for_two(way, posts, at, place)
            if merged is not None:
                gateway, posts[place : place + 3] = merged
                at[place : place + 2] = [gateway]
        place += 1


def _one_for_two(way: _Gateways, posts: list[Pair], at: list[int], place: int) -> tuple[int, list[Pair]] | None:
    """Gateway of one post in the stead of two, and this post and the next one; the very last may move as well."""
    before, after = place - 1, place + 2
    nexts = [posts[after]]
    if after == len(posts) - 1:
        nexts += [way.place(at[after], share) for share in _SHARES]
    for gateway in range(at[place], at[place + 1] + 1):
        for share, behind in product(_SHARES, nexts):
            here = way.place(gateway, share)
            if _keep_to(way, [posts[before], here, behind], [at[before], gateway, at[after]]):
                return gateway, [here, behind]
    return None


def _keep_to(way: _Gateways, posts: list[Pair], at: list[int]) -> bool:
    """Whether straight strains between posts at some gateways pass through all gateways between these."""
    places = np.arange(at[0], at[-1] + 1)
    strain = np.clip(np.searchsorted(at, places, side="left") - 1, 0, len(at) - 2)
    corners = np.array(posts)
    begins, steps = corners[strain], np.diff(corners, axis=0)[strain]
    inner = np.column_stack([way.in_x, way.in_y])[places]
    outer = np.column_stack([way.out_x, way.out_y])[places]
    along = steps / np.maximum(np.hypot(*steps.T), _HAIR)[:, None]
    near, far = ((along[:, 0] * (end - begins)[:, 1] - along[:, 1] * (end - begins)[:, 0]) for end in (inner, outer))
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
    best: tuple[int, Pair, Pair, Pair] | None = None
    for share in _ACROSS:
        here = way.place(at, low + share * (high - low))
        reached, left, right = _seen(way, at, last, here)
        if best is None or reached > best[0]:
            best = reached, here, left, right
        if high - low < _HAIR or reached == last:
            break
    assert best is not None
    reached, here, left, right = best
    inside, outside = _crossing(way, reached, here, left), _crossing(way, reached, here, right)
    low, high = 0.0 if inside is None else inside, 1.0 if outside is None else outside
    return here, (reached, (low, high) if low <= high else ((low + high) / 2,) * 2)


def _seen(way: _Gateways, at: int, last: int, here: Pair) -> tuple[int, Pair, Pair]:
    """Farthest gateway that is seen from a place on gateway ``at``, and the lines of sight that bound what is seen.

    The two lines of sight that just pass all gateways so far close in, gateway by gateway, until none is left.
    """
    in_x, in_y, out_x, out_y = way
    x, y = here
    if at == last:
        return last, (0.0, 0.0), (0.0, 0.0)
    reached = at + 1
    left_x, left_y, right_x, right_y = in_x[reached] - x, in_y[reached] - y, out_x[reached] - x, out_y[reached] - y
    for place in range(at + 2, last + 1):
        next_x, next_y = in_x[place] - x, in_y[place] - y
        far_x, far_y = out_x[place] - x, out_y[place] - y
        nearer = left_x * next_y < left_y * next_x  # its inner end stands in the way
        farther = right_x * far_y > right_y * far_x
        if (nearer and next_x * right_y > next_y * right_x) or (farther and left_x * far_y > left_y * far_x):
            break
        if nearer:
            left_x, left_y = next_x, next_y
        if farther:
            right_x, right_y = far_x, far_y
        reached = place
    return reached, (left_x, left_y), (right_x, right_y)


def _crossing(way: _Gateways, at: int, here: Pair, sight: Pair) -> float | None:
    """Where a line of sight crosses a gateway, as a share from its inner end; None if it runs along it."""
    begin_x, begin_y = way.in_x[at], way.in_y[at]
    turned = sight[0] * (way.out_y[at] - begin_y) - sight[1] * (way.out_x[at] - begin_x)
    if abs(turned) < 1e-12:
        return None
    off = sight[0] * (here[1] - begin_y) - sight[1] * (here[0] - begin_x)
    return min(max(off / turned, 0.0), 1.0)
