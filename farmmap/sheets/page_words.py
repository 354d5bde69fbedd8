"""What pages of every kind say: cautions, which north, and what lies under the map."""

from __future__ import annotations

from collections.abc import Iterable

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.scene.backdrops import Backdrops
from farmmap.scene.scales import LEAST_SCALE, MOST_SCALE
from farmmap.scene.scene import Scene
from farmmap.scene.view import Bounds

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


def north_words(farm: Farm, bounds: Bounds) -> tuple[str, ...]:
    """Say which north the arrow shows, how true north lies to it in the middle of the map, and which grid it is."""
    west, south, east, north = bounds
    turn = farm.grid.convergence_deg((west + east) / 2, (south + north) / 2)
    if farm.grid.local:
        return (
            "North of the farm's own plan",
            "True north is not known.",
            f"{farm.grid.name[:1].upper()}{farm.grid.name[1:]}",
            "coordinates in metres",
        )
    if abs(turn) < 0.005:
        true = "True north lies on it here."
    else:
        true = f"True north lies {abs(turn):.2f}° {'west' if turn > 0 else 'east'} of it here."
    return ("Grid north", true, farm.grid.name, f"{farm.grid.label}, coordinates in metres")


def not_shown(backdrops: Backdrops, hidden: frozenset[str]) -> Iterable[str]:
    """Say which backdrops are missing from the page, and why."""
    layers = {"picture": "backdrops", "elevation": "relief"}
    for one in backdrops.all:
        if one.shown and one.trouble and layers[one.kind] not in hidden:
            yield f"{one.name} is not on the page: {one.trouble}"


def metres(length_m: float) -> str:
    """Return a length in whole metres, such as ``1 250 m``."""
    return f"{length_m:,.0f} m".replace(",", "\u202f")
