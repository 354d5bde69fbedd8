"""Elements of a page that are moved or resized by hand: to which lines they snap, and what is wrong where they lie."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

SNAP_MM = 2.0
"""How near an edge has to come to a line to snap to it. [mm]"""

LEAST_SIDE_MM = 8.0
"""Elements are made no narrower or lower than that. [mm]"""

TOUCH_MM = 0.05
"""What lies over another by less than that only touches it. [mm]"""

ON_LINE_MM = 1e-6

Grip = tuple[int, int]
"""Which edges are drawn: -1 for the left or upper one, 1 for the right or lower one, 0 for neither."""


@dataclass(frozen=True)
class Place:
    """The rectangle of an element of a page.

    Attributes
    ----------
    x, y : float
        Its upper left corner, from that of the page. [mm]
    width, height : float
        Its sides. [mm]
    name : str
        Which element it is.
    """

    x: float
    y: float
    width: float
    height: float
    name: str = ""

    @property
    def right(self) -> float:
        """Its right edge. [mm]."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """Its lower edge. [mm]."""
        return self.y + self.height

    def moved(self, dx: float, dy: float) -> Place:
        """Return it elsewhere."""
        return replace(self, x=self.x + dx, y=self.y + dy)

    def holds(self, x: float, y: float) -> bool:
        """Whether a point lies in it."""
        return self.x <= x <= self.right and self.y <= y <= self.bottom

    def overlaps(self, other: Place) -> bool:
        """Whether it lies over another, and does not only touch it."""
        wide = min(self.right, other.right) - max(self.x, other.x)
        high = min(self.bottom, other.bottom) - max(self.y, other.y)
        return wide > TOUCH_MM and high > TOUCH_MM


@dataclass(frozen=True)
class Guide:
    """A line to which an element snapped.

    Attributes
    ----------
    upright : bool
        Whether it runs down the page.
    at : float
        How far it is from the left edge of the page, or from the upper edge. [mm]
    first, last : float
        Between where it is to be seen. [mm]
    """

    upright: bool
    at: float
    first: float
    last: float


@dataclass(frozen=True)
class Snapped:
    """Where an element came to lie, and the lines that took it there."""

    place: Place
    guides: tuple[Guide, ...] = ()


@dataclass(frozen=True)
class Surroundings:
    """What an element snaps to: the paper's margins and middle, and the other elements.

    Attributes
    ----------
    width, height : float
        The paper. [mm]
    margin : float
        Left free at its edges. [mm]
    others : tuple of Place
        The other elements of the page, the frames of maps among them.
    """

    width: float
    height: float
    margin: float
    others: tuple[Place, ...] = ()

    def upright_lines(self) -> tuple[tuple[float, Place], ...]:
        """Lines that run down the page, each with the rectangle whose edge or middle it is. [mm]."""
        return tuple((at, of) for of in (*self.others, self._inside) for at in (of.x, of.x + of.width / 2, of.right))

    def level_lines(self) -> tuple[tuple[float, Place], ...]:
        """Lines that run across the page, each with the rectangle whose edge or middle it is. [mm]."""
        return tuple((at, of) for of in (*self.others, self._inside) for at in (of.y, of.y + of.height / 2, of.bottom))

    @property
    def _inside(self) -> Place:
        return Place(self.margin, self.margin, self.width - 2 * self.margin, self.height - 2 * self.margin)

    def off_paper_mm(self, place: Place) -> float:
        """How far an element hangs over the edges of the paper, all edges together. [mm]."""
        over = (-place.x, -place.y, place.right - self.width, place.bottom - self.height)
        return sum(far for far in over if far > TOUCH_MM)

    def covered(self, place: Place) -> frozenset[int]:
        """Which of the others an element lies over, by their order."""
        return frozenset(number for number, other in enumerate(self.others) if place.overlaps(other))


def move_snapped(place: Place, around: Surroundings, within_mm: float = SNAP_MM) -> Snapped:
    """Return where an element that is being moved snaps to.

    Its edges and its middle snap to the lines of its surroundings, the
    nearest first; nothing snaps to where it would lie over one that it is
    clear of where it is held, or farther off the paper.

    Parameters
    ----------
    place : Place
        Where it is held.
    around : Surroundings
        What it may snap to.
    within_mm : float
        From how far; 0 for not at all. [mm]
    """
    tries = [place.moved(dx, dy) for dx, dy in _steps(place, None, around, within_mm)]
    return _best(place, tries, None, around)


def resize_snapped(
    place: Place, grip: Grip, dx: float, dy: float, around: Surroundings, within_mm: float = SNAP_MM
) -> Snapped:
    """Return the size that an element snaps to whose corner or edge is being drawn.

    Parameters
    ----------
    place : Place
        Where it was before.
    grip : tuple of int
        Which edges are drawn, as `Grip` says.
    dx, dy : float
        How far they are drawn. [mm]
    around, within_mm
        As for `move_snapped`.
    """
    held = _drawn(place, grip, dx, dy)
    tries = [_drawn(held, grip, *more) for more in _steps(held, grip, around, within_mm)]
    return _best(held, tries, grip, around)


def over_each_other(places: Sequence[Place]) -> list[tuple[str, str]]:
    """Return the names of elements that lie over each other, in pairs."""
    return [
        (one.name, other.name)
        for number, one in enumerate(places)
        for other in places[number + 1 :]
        if one.overlaps(other)
    ]


def off_paper(places: Iterable[Place], width: float, height: float) -> list[str]:
    """Return the names of elements that do not lie wholly on paper of a width and height. [mm]."""
    paper = Surroundings(width, height, 0.0)
    return [place.name for place in places if paper.off_paper_mm(place)]


def _drawn(place: Place, grip: Grip, dx: float, dy: float) -> Place:
    """Return a rectangle with some of its edges drawn, as far as its least size allows."""
    left, right = _drawn_edges(place.x, place.right, grip[0], dx)
    top, bottom = _drawn_edges(place.y, place.bottom, grip[1], dy)
    return replace(place, x=left, y=top, width=right - left, height=bottom - top)


def _drawn_edges(low: float, high: float, way: int, step: float) -> tuple[float, float]:
    least = min(LEAST_SIDE_MM, high - low)
    if way < 0:
        return min(low + step, high - least), high
    if way > 0:
        return low, max(high + step, low + least)
    return low, high


def _edges(place: Place, grip: Grip | None) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return what of an element snaps: all edges and the middle of one that is moved, else the edges that are drawn."""
    if grip is None:
        middle = (place.x + place.width / 2, place.y + place.height / 2)
        return (place.x, middle[0], place.right), (place.y, middle[1], place.bottom)
    across: dict[int, tuple[float, ...]] = {-1: (place.x,), 0: (), 1: (place.right,)}
    down: dict[int, tuple[float, ...]] = {-1: (place.y,), 0: (), 1: (place.bottom,)}
    return across[grip[0]], down[grip[1]]


def _steps(place: Place, grip: Grip | None, around: Surroundings, within_mm: float) -> Iterator[tuple[float, float]]:
    """Yield how far an element would have to go to lie on lines, and that it stays where it is held."""
    both = []
    for edges, lines in zip(_edges(place, grip), (around.upright_lines(), around.level_lines()), strict=True):
        both.append({0.0} | {at - edge for edge in edges for at, _ in lines if abs(at - edge) <= within_mm})
    return ((dx, dy) for dx in both[0] for dy in both[1])


def _best(held: Place, tries: Iterable[Place], grip: Grip | None, around: Surroundings) -> Snapped:
    """Return the try that lies on most lines and is nearest, of those that are no worse off than as it is held."""
    covered, off = around.covered(held), around.off_paper_mm(held)
    best: tuple[tuple[int, float], Snapped] | None = None
    for place in tries:
        if place != held and (around.covered(place) - covered or around.off_paper_mm(place) > off):
            continue
        guides = _guides(place, grip, around)
        far = max(abs(place.x - held.x), abs(place.right - held.right))
        far += max(abs(place.y - held.y), abs(place.bottom - held.bottom))
        worth = (-len({guide.upright for guide in guides}), far)
        if best is None or worth < best[0]:
            best = worth, Snapped(place, guides)
    assert best is not None, "it may always stay where it is held"
    return best[1]


def _guides(place: Place, grip: Grip | None, around: Surroundings) -> tuple[Guide, ...]:
    """Return the lines on which what snaps of an element lies."""
    across, down = _edges(place, grip)
    found: dict[tuple[bool, float], Guide] = {}
    for upright, lines, edges in ((True, around.upright_lines(), across), (False, around.level_lines(), down)):
        for at, of in lines:
            if all(abs(at - edge) > ON_LINE_MM for edge in edges):
                continue
            ends = [place.y, place.bottom, of.y, of.bottom] if upright else [place.x, place.right, of.x, of.right]
            was = found.get((upright, round(at, 3)))
            if was is not None:
                ends += [was.first, was.last]
            found[upright, round(at, 3)] = Guide(upright, at, min(ends), max(ends))
    return tuple(found.values())
