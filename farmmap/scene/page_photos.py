"""Photographs on a page: those of one photo point together, before and after beside each other."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import groupby
from pathlib import Path

import numpy as np

from farmmap.farm.day_words import in_words
from farmmap.farm.farm import Farm
from farmmap.farm.schema import PHOTO_POINTS
from farmmap.files.photos import Photo, before_and_after, photos_of
from farmmap.scene.page_items import Box, Item, Picture, Shape, Text, Type, elided, wrapped
from farmmap.scene.page_stack import Part
from farmmap.scene.page_tables import PageTable
from farmmap.scene.paper import Paper
from farmmap.scene.sheet_layout import MARGIN_MM

COMPASS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
LEAST_ACROSS_MM = 34.0
"""Photographs stand beside each other only where each is at least so wide. [mm]"""
MOST_ACROSS_MM = 96.0
"""A photograph is not made wider than this, nor higher than three quarters of it, larger on larger paper. [mm]"""
LEAST_MM = 24.0
"""A photograph is not made lower than this where room is short. [mm]"""
PAGE_SHARES = (1.0, 0.9, 0.8, 0.7)
"""Photographs on pages of their own shrink to these shares where that saves a page."""
MOST_ASPECT = 8.0
"""A photograph wider or higher than so many times the other is shown in a frame of this shape."""
SMALL = 0.6
"""Photographs that shrink to less than this share of a column stand two beside each other."""
CAPTION_LINES = 3
FURTHER = "Further photographs"

HOW_TO = (
    "Stand at the same place, at the same height and zoom, on about the same day of the year. "
    "Have the sun behind you: {away}. Mark the place with a post, and put a second post about 5 m off in the middle "
    "of the picture to sight on. Carry the last photograph to frame the next one alike."
)
"""After Tāne's Tree Trust (photographs for monitoring) and Landcare photo point guides (post and sighter post)."""


@dataclass(frozen=True, eq=False)
class Shot:
    """A photograph as it is printed.

    Attributes
    ----------
    photo : Photo
        Which.
    number : int
        By which it is called on the page, from 1.
    role : str
        ``before`` for the first of several from one point, ``after`` for the last whose day is known, "" for others.
    """

    photo: Photo
    number: int
    role: str

    @property
    def aspect(self) -> float:
        """Width ÷ height."""
        file = self.photo.file
        if file is None or not file.height:
            return 4 / 3
        return min(max(file.width / file.height, 1 / MOST_ASPECT), MOST_ASPECT)

    @property
    def words(self) -> str:
        """Number, day, and what it shows."""
        day = "" if self.photo.taken_on is None else in_words(self.photo.taken_on)
        when = ", ".join(part for part in (self.role, day) if part)
        said = self.photo.caption.strip() or ("" if when else self.photo.path.stem.replace("_", " "))
        parts = [part for part in (when[:1].upper() + when[1:], said.rstrip(".")) if part]
        return f"{self.number}. {'. '.join(parts)}"


@dataclass(frozen=True, eq=False)
class PhotoGroup:
    """Photographs that stand together.

    Attributes
    ----------
    heading, words : str
        Name of the photo point, and which way it looks.
    shots : tuple of Shot
        The first and the last of a point before those between them.
    """

    heading: str
    words: str
    shots: tuple[Shot, ...]


def bearing_words(bearing_deg: float) -> str:
    """Return a bearing as ``looking north-east``, "" if it is not known."""
    if not math.isfinite(bearing_deg):
        return ""
    return f"looking {COMPASS[round(bearing_deg / 45.0) % 8]}"


def how_to_words(farm: Farm) -> str:
    """Return how photographs are taken so that they can be held beside each other."""
    box = farm.bounds()
    south = box is not None and float(farm.grid.lon_lat(box[0], box[1])[1]) < 0
    side = "north" if south else "south"
    return HOW_TO.format(away=f"here it is best to stand to the {side} of what you photograph")


def photo_groups(farm: Farm, folder: Path | None) -> tuple[PhotoGroup, ...]:
    """Return the photographs of a farm, point by point, then those of no point.

    Parameters
    ----------
    farm : Farm
        The farm.
    folder : Path or None
        Folder of the farm file.
    """
    points = farm.tables["photo_points"]
    groups: list[PhotoGroup] = []
    number = 1
    for known, taken in groupby(photos_of(farm, folder), lambda one: one.point if one.point in points.index else None):
        photos = list(taken)
        roles = [""] * len(photos)
        pair = None if known is None else before_and_after(photos)
        if pair is not None:
            photos = [photos[place] for place in pair] + [one for at, one in enumerate(photos) if at not in pair]
            roles[:2] = "before", "after"
        shots = tuple(Shot(*one) for one in zip(photos, range(number, number + len(photos)), roles, strict=True))
        number += len(shots)
        if known is None:
            groups.append(PhotoGroup(FURTHER if groups else "Photographs", "", shots))
        else:
            row = points.loc[known]
            words = view_words(float(row["bearing_deg"]), float(row["height_m"]))
            groups.append(PhotoGroup(_heading_of(str(row["name"])), words, shots))
    return tuple(groups)


def _heading_of(name: str) -> str:
    kind = PHOTO_POINTS.one.capitalize()
    return name if name.casefold().startswith(kind.casefold()) else f"{kind} {name}"


def view_words(bearing_deg: float, height_m: float) -> str:
    """Return which way a photo point looks and how high its camera stands, "" for what is not known."""
    parts = []
    if math.isfinite(bearing_deg):
        parts.append(f"{bearing_words(bearing_deg)} ({round(bearing_deg) % 360}° from grid north)")
    if math.isfinite(height_m):
        parts.append(f"camera {height_m:g} m above the ground")
    return ", ".join(parts)


def photo_parts(farm: Farm, folder: Path | None, type_: Type) -> tuple[Part, ...]:
    """Return the photographs for a column beside a map, one part for each photo point; they shrink for want of room."""
    return tuple(
        Part(f"photos {number}", partial(_group_box, group, type_), 9)
        for number, group in enumerate(photo_groups(farm, folder), 1)
    )


def photo_pages(farm: Farm, folder: Path | None, paper: Paper, title: str, type_: Type) -> tuple[tuple[Box, ...], ...]:
    """Return pages of photographs, as many as it takes; none if the farm has none.

    Parameters
    ----------
    farm : Farm
        The farm.
    folder : Path or None
        Folder of the farm file.
    paper : Paper
        The sheet.
    title : str
        Head of each page.
    type_ : Type
        Sizes of type.
    """
    groups = photo_groups(farm, folder)
    tries = [_pages(groups, paper, title, type_, share) for share in PAGE_SHARES]
    return min(tries, key=len)  # of those with as few pages the first, with the largest photographs


def _pages(
    groups: Sequence[PhotoGroup], paper: Paper, title: str, type_: Type, share: float
) -> tuple[tuple[Box, ...], ...]:
    wide, high = paper.width_mm - 2 * MARGIN_MM, paper.height_mm - 2 * MARGIN_MM
    rows = _set(groups, type_, wide, share)
    pages: list[list[Box]] = []
    y = math.inf
    for row in rows:
        if y + row.height > high:
            head = _page_head(title if not pages else f"{title}, continued", type_, wide)
            pages.append([head.placed(MARGIN_MM, MARGIN_MM)])
            y = head.height + type_.gap
        pages[-1].append(row.placed(MARGIN_MM, MARGIN_MM + y))
        y += row.height + type_.gap
    return tuple(map(tuple, pages))


def _page_head(title: str, type_: Type, width: float) -> Box:
    head = type_.style(12.0, "bold")
    words = Text(0, head.size_mm, elided(title, head, width, type_.width), head)
    return Box("head", 0, 0, width, head.size_mm * 1.6, (words,))


def points_table(farm: Farm) -> PageTable:
    """Return where the photo points are, which way they look, and how many photographs there are from each."""
    points, photos = farm.tables["photo_points"], farm.tables["photos"]
    rows = []
    for row in points.itertuples():
        days = photos["taken_on"][(photos["photo_point"] == row.Index).to_numpy(bool)]
        newest = days.dropna().max() if len(days) else None
        last = "–" if newest is None or newest != newest else in_words(newest)  # noqa: PLR0124 - NaT is not itself
        bearing = f"{round(row.bearing_deg) % 360}" if np.isfinite(row.bearing_deg) else "–"
        rows.append((str(row.name), bearing, f"{row.x:.0f}", f"{row.y:.0f}", str(len(days)), last))
    heads = (("Photo point",), ("Bearing", "°"), ("East", "m"), ("North", "m"), ("Photos",), ("Last",))
    return PageTable(
        "photo points", "Photo points", heads, 1, tuple(rows), "photo point", "photo points", "the pages of photographs"
    )


def _group_box(group: PhotoGroup, type_: Type, width: float, height: float) -> Box:
    """Return all photographs of a point in one box, smaller where it would be higher than there is room."""
    boxes: list[Box] = []
    for share in (1.0, 0.85, 0.7, 0.55, 0.45, 0.35, 0.25):
        boxes = list(_group_rows(group, type_, width, share))
        total = sum(box.height for box in boxes) + type_.gap * 0.5 * (len(boxes) - 1)
        if total <= height:
            break
    items: list[Item] = []
    y = 0.0
    for box in boxes:
        items += [item.moved(0.0, y) for item in box.items]
        y += box.height + type_.gap * 0.5
    return Box("photos", 0, 0, width, max(y - type_.gap * 0.5, 0.0), tuple(items))


def _set(groups: Sequence[PhotoGroup], type_: Type, width: float, share: float = 1.0) -> list[Box]:
    """Return rows of photographs; points with a single one share a row, two and two."""
    gap, rest = type_.gap * 0.8, list(groups)
    half = (width - gap) / 2
    may_share = _across(2, type_, width) > 1
    rows: list[Box] = []
    while rest:
        group = rest.pop(0)
        if may_share and rest and len(group.shots) == len(rest[0].shots) == 1:
            left, right = (next(_group_rows(one, type_, half, share)) for one in (group, rest.pop(0)))
            items = (*left.items, *right.moved(half + gap, 0.0).items)
            rows.append(Box("photos", 0, 0, width, max(left.height, right.height), items))
        else:
            rows += _group_rows(group, type_, width, share)
    return rows


def _across(shots: int, type_: Type, width: float) -> int:
    """Return how many photographs stand beside each other."""
    gap = type_.gap * 0.8
    across = max(math.ceil((width + gap) / (MOST_ACROSS_MM * type_.times + gap)), 1)
    if across == 1 and shots > 1 and width >= 2 * LEAST_ACROSS_MM * type_.times + gap:
        across = 2
    return min(across, max(shots, 2))


def _group_rows(group: PhotoGroup, type_: Type, width: float, share: float = 1.0) -> Iterator[Box]:
    """Yield rows of photographs, the first with the heading of the group."""
    gap = type_.gap * 0.8
    across = _across(len(group.shots), type_, width)
    if across == 1 and len(group.shots) > 1 and share < SMALL:
        across, share = 2, min(2 * share, 1.0)
    each = min((width - gap * (across - 1)) / across, MOST_ACROSS_MM * 1.3 * type_.times)
    for first in range(0, len(group.shots), across):
        head = _heading(group, type_, width) if first == 0 else ([], 0.0)
        yield _row(group.shots[first : first + across], type_, width, each, gap, share, head)


def _heading(group: PhotoGroup, type_: Type, width: float) -> tuple[list[Item], float]:
    style = type_.heading
    items: list[Item] = [Text(0, style.size_mm, elided(group.heading, style, width, type_.width), style)]
    y = style.size_mm * 1.45
    for line in wrapped(group.words, type_.small, width, type_.width):
        items.append(Text(0, y + type_.small.size_mm * 0.95, line, type_.small))
        y += type_.small.size_mm * 1.25
    return items, y + type_.small.size_mm * 0.4


def _row(
    shots: Sequence[Shot],
    type_: Type,
    width: float,
    each: float,
    gap: float,
    share: float,
    head: tuple[list[Item], float],
) -> Box:
    """Return photographs beside each other, all equally high at the most, with captions below."""
    items, top = list(head[0]), head[1]
    most = max(each * 0.75 * share, min(LEAST_MM, each * 0.75))
    sizes = [(min(each, most * shot.aspect), min(most, each / shot.aspect)) for shot in shots]
    high = max(size[1] for size in sizes)
    below = 0.0
    x = 0.0
    for shot, (wide, tall) in zip(shots, sizes, strict=True):
        room = max(wide, min(each, 30.0 * type_.times))
        items += _shot(shot, type_, (x, top + high - tall, wide, tall))
        style = type_.body
        lines = wrapped(shot.words, style, room, type_.width)
        if len(lines) > CAPTION_LINES:
            rest = " ".join(lines[CAPTION_LINES - 1 :])
            lines = [*lines[: CAPTION_LINES - 1], elided(rest, style, room, type_.width)]
        y = top + high + style.size_mm * 0.45
        for line in lines:
            y += style.size_mm * 1.25
            items.append(Text(x, y - style.size_mm * 0.3, line, style))
        below = max(below, y)
        x += max(room, wide) + gap
    return Box("photos", 0, 0, width, below + type_.gap * 0.2, tuple(items))


def _shot(shot: Shot, type_: Type, at: tuple[float, float, float, float]) -> Iterator[Item]:
    """Yield a photograph, or an empty frame that says why there is none."""
    x, y, wide, high = at
    if shot.photo.file is not None:
        yield Picture(x, y, wide, high, str(shot.photo.path))
        return
    corners = ((x, y), (x + wide, y), (x + wide, y + high), (x, y + high))
    yield Shape(corners, closed=True, line=type_.theme.faint, line_mm=0.2)
    style = type_.small
    lines = wrapped(shot.photo.trouble, style, wide - 3.0, type_.width)[
        : max(int(high / (style.size_mm * 1.25)) - 1, 1)
    ]
    start = y + high / 2 - (len(lines) - 1) * style.size_mm * 0.625 + style.size_mm * 0.35
    for place, line in enumerate(lines):
        yield Text(x + wide / 2, start + place * style.size_mm * 1.25, line, style, "middle")
