"""Setting a page whose key tells of what is on the map, while the map's room depends on the key."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from farmmap.scene.sheet_layout import PagePlan
from farmmap.scene.view import Bounds

MOST_ROUNDS = 3

Made = TypeVar("Made")


def settled(made: Callable[[Bounds], Made], page_of: Callable[[Made], PagePlan], first: Bounds) -> Made:
    """Set a page again for the ground that it shows, until that stays the same; three times at most.

    Parameters
    ----------
    made : callable
        Sets the page for what lies within a rectangle of ground.
    page_of : callable
        Gives the page of what was set.
    first : tuple of float
        West, south, east, north to begin with. [grid m]
    """
    now = made(first)
    for _ in range(MOST_ROUNDS):
        ground = page_of(now).view.ground_bounds()
        now = made(ground)
        if page_of(now).view.ground_bounds() == ground:
            break
    return now


def wider(bounds: Bounds, share: float = 1.0) -> Bounds:
    """Return a rectangle of ground widened on each side by a share of its longer side."""
    west, south, east, north = bounds
    more = max(east - west, north - south) * share
    return west - more, south - more, east + more, north + more
