"""A second look for names that found no room: others that have places to spare make way for them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import islice
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from farmmap.scene.label_curves import Letter
from farmmap.scene.label_places import Place
from farmmap.scene.label_room import Cells, LabelRoom
from farmmap.scene.view import Floats

MOST_LOOKED_AT = 24
"""So many of the names that found no room are looked at again, the most important first."""

MOST_PLACES = 18
MOST_TRIES = 300
"""So many places are tried at most while names make way, as the map is waiting; fewer where there are many names."""

_TRIES_TIMES_NAMES = 6000

_MOST_IN_THE_WAY = 3


class _Crowd(NamedTuple):
    """Places of a name, which of the written names lies on each, and how many do; more than all outside the frame."""

    places: list[Place]
    near: NDArray[np.bool_]
    how_many: NDArray[np.int64]

    def free_but_for(self, rows: list[int]) -> list[Place]:
        """Return the places on which nothing lies but some of the written names."""
        free = np.flatnonzero(self.how_many == self.near[:, rows].sum(axis=1))
        return [self.places[which] for which in free.tolist()]


class Written:
    """Names that have their places, and which may yet move.

    Parameters
    ----------
    room : LabelRoom
        Where they lie.
    gap_mm : float
        Left free between names. [mm]
    """

    def __init__(self, room: LabelRoom, gap_mm: float) -> None:
        self._room, self._gap = room, gap_mm
        self._places: dict[int, Place] = {}
        self._tried: list[list[Place]] = []
        self._untried: list[Iterator[Place]] = []
        self._tries = 0
        self._boxes = np.zeros((0, 4))
        self._crowds: dict[int, _Crowd] = {}

    def write(self, choices: Iterator[Place]) -> bool:
        """Write a name at the first of its places that is free, and say whether there was one."""
        tried: list[Place] = []
        self._tried.append(tried)
        self._untried.append(choices)
        for place in choices:
            tried.append(place)
            if self._room_for(place):
                self._places[len(self._tried) - 1] = place
                return True
        return False

    def write_about(self, choices: Iterator[Place], cells: Cells) -> bool:
        """Write a name as `write` does, where the cells of its places are known."""
        which = self._room.take_first(cells)
        tried = [] if which is None else list(islice(choices, which + 1))
        if tried:
            self._places[len(self._tried)] = tried[-1]
        self._tried.append(tried)
        self._untried.append(choices)
        return bool(tried)

    def look_again(self, pause: Callable[[], None]) -> None:
        """Write names that found no place where a few others can make way without losing theirs."""
        left_out = [one for one in range(len(self._tried)) if one not in self._places][:MOST_LOOKED_AT]
        if not left_out:
            return
        most_tries = min(MOST_TRIES, _TRIES_TIMES_NAMES // len(self._tried))
        order = list(self._places)
        self._boxes = np.full((len(order) + len(left_out), 4), np.inf)
        self._boxes[: len(order)] = self._around(list(self._places.values()))
        for one in left_out:
            pause()
            if self._tries > most_tries:
                return
            crowd = self._crowd(one)
            hopeful = int((crowd.how_many <= _MOST_IN_THE_WAY).sum())
            for which in np.argsort(crowd.how_many, kind="stable")[:hopeful].tolist():
                pause()
                rows = np.flatnonzero(crowd.near[which]).tolist()
                if self._make_way(crowd.places[which], [order[row] for row in rows], rows):
                    before = [other for other in left_out[: left_out.index(one)] if other not in self._places]
                    written = self._more_important(before, crowd.places[which]) or (one, crowd.places[which])
                    self._places[written[0]] = written[1]
                    order.append(written[0])
                    rows.append(len(order) - 1)
                    self._boxes[rows] = self._around([self._places[order[row]] for row in rows])
                    self._crowds.clear()
                    break

    def _more_important(self, left_out: list[int], place: Place) -> tuple[int, Place] | None:
        """Give a place that was taken to a name that matters more, if others made room for that one too."""
        self._give_back(place)
        box = self._around([place])
        for one in left_out:
            choices = self._tried[one][:MOST_PLACES]
            for which in np.flatnonzero(_overlapping(self._around(choices), box)).tolist():
                if self._take(choices[which]):
                    return one, choices[which]
        self._take(place)
        return None

    def found(self) -> list[tuple[int, Place]]:
        """Return which names were written, by their numbers in turn, and where."""
        return sorted(self._places.items())

    def _make_way(self, place: Place, others: list[int], rows: list[int]) -> bool:
        """Take a place and move those in the way to places of theirs that are free; else leave all as it was."""
        spare = [self._crowd(other).free_but_for(rows) for other in others]
        if not all(spare):
            return False
        before = [self._places[other] for other in others]
        for was in before:
            self._give_back(was)
        taken = [place] if self._take(place) else []
        if taken:
            for choices in spare:
                new = next((to for to in choices if self._take(to)), None)
                if new is None:
                    break
                taken.append(new)
        if len(taken) == len(others) + 1:
            self._places.update(zip(others, taken[1:], strict=True))
            return True
        for now in taken:
            self._give_back(now)
        for was in before:
            self._take(was)
        return False

    def _crowd(self, one: int) -> _Crowd:
        """Return what lies on the first places of a name."""
        found = self._crowds.get(one)
        if found is None:
            self._tries += 8  # it takes so much longer than to try one place
            tried = self._tried[one]
            tried += islice(self._untried[one], max(MOST_PLACES - len(tried), 0))
            places = tried[:MOST_PLACES]
            boxes = self._around(places)
            near = _overlapping(boxes, self._boxes)
            found = _Crowd(places, near, near.sum(axis=1) + len(self._boxes) * ~self._room.hold(boxes))
            self._crowds[one] = found
        return found

    def _take(self, place: Place) -> bool:
        _, _, _, _, _, angle, *letters = place
        self._tries += 8 if letters else 4 if angle else 1  # turned ones take so much longer
        return self._room_for(place)

    def _room_for(self, place: Place) -> bool:
        _, x, y, width, height, angle, *letters = place
        if letters:
            return self._room.take_all(self._boxes_of(letters, x, y))
        return self._room.take(x, y, width + self._gap, height + self._gap, angle)

    def _give_back(self, place: Place) -> None:
        _, x, y, width, height, angle, *letters = place
        if letters:
            self._room.give_all_back(self._boxes_of(letters, x, y))
        else:
            self._room.give_back(x, y, width + self._gap, height + self._gap, angle)

    def _boxes_of(self, letters: list[Letter], x: float, y: float) -> Floats:
        """Rectangles of the letters of a bent name whose middle is given, with the gap, shape (n, 5). [mm]; [deg]."""
        boxes = np.array([letter[1:] for letter in letters])
        boxes += (x, y, self._gap, self._gap, 0.0)
        return boxes

    def _around(self, some: list[Place]) -> Floats:
        """Upright rectangles around places, with the gap, shape (n, 4). [mm]."""
        x, y, width, height, angle = np.array([place[1:6] for place in some]).reshape(-1, 5).T
        cos, sin = np.abs(np.cos(np.radians(angle))), np.abs(np.sin(np.radians(angle)))
        width, height = (width + self._gap) / 2, (height + self._gap) / 2
        wide, high = width * cos + height * sin, width * sin + height * cos
        return np.column_stack([x - wide, y - high, x + wide, y + high])


def _overlapping(some: Floats, others: Floats) -> np.ndarray:
    """Which upright rectangles of the first lie on which of the others, shape (n, m)."""
    left, top, right, bottom = some.T[:, :, None]
    return (others[:, 0] < right) & (others[:, 2] > left) & (others[:, 1] < bottom) & (others[:, 3] > top)
