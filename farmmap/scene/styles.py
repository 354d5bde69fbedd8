"""Colours, weights and sizes of everything on the map, in a light, a dark and a paper theme.

Sizes are in millimetres of picture and keep to the usual smallest sizes of
print: text 6 pt; lines 0.1 mm, 0.2 mm where copies are made; filled symbols
0.3 mm for a dot and 0.6 mm for a square, open ones 1.0 mm; gaps 0.2 mm.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from farmmap.errors import BadInput

POINT_MM = 25.4 / 72
"""One point of type. [mm]"""

LEAST_TEXT_MM = 6 * POINT_MM
LEAST_LINE_MM = 0.1
LEAST_DOT_MM = 0.3
LEAST_FILLED_MM = 0.6
LEAST_OPEN_MM = 1.0


@dataclass(frozen=True)
class AreaStyle:
    """How an area is drawn.

    Attributes
    ----------
    fill : str
        ``#rrggbb``, "" for none.
    opacity : float
        Of the fill, 0 to 1.
    line : str
        Colour of the outline, "" for none.
    line_mm : float
        Its weight. [mm]
    dash : tuple of float
        Lengths of strokes and gaps in turn; empty for a full line. [mm]
    """

    fill: str = ""
    opacity: float = 1.0
    line: str = ""
    line_mm: float = 0.2
    dash: tuple[float, ...] = ()


@dataclass(frozen=True)
class LineStyle:
    """How a line is drawn.

    Attributes
    ----------
    colour : str
        ``#rrggbb``.
    width_mm : float
        Weight, or least weight of a line that has a true width. [mm]
    dash : tuple of float
        As in `AreaStyle`.
    inside : str
        Colour between the two edges of a line drawn double, "" for a simple line.
    edge_mm : float
        Weight of each edge of a double line. [mm]
    tick_mm : float
        Length of small strokes across the line, 0 for none. [mm]
    tick_every_mm : float
        From one stroke to the next. [mm]
    arrow_every_mm : float
        From one arrowhead along the line to the next, 0 for none. [mm]
    caution_every_mm : float
        From one caution sign to the next, 0 for none. [mm]
    """

    colour: str
    width_mm: float
    dash: tuple[float, ...] = ()
    inside: str = ""
    edge_mm: float = 0.2
    tick_mm: float = 0.0
    tick_every_mm: float = 3.0
    arrow_every_mm: float = 0.0
    caution_every_mm: float = 0.0


@dataclass(frozen=True)
class MarkStyle:
    """How a single point is drawn.

    Attributes
    ----------
    shape : str
        ``caution``, ``note``, ``ring``, ``cross``, ``gate``, ``trough``, ``floodgate``, ``peg``,
        ``angle`` or one of `farmmap.scene.symbols.SHAPES`.
    line : str
        Colour of its outline.
    fill : str
        Colour inside, "" for none.
    size_mm : float
        Height. [mm]
    line_mm : float
        Weight of its outline. [mm]
    core : str
        Colour of what is drawn in it, such as the water of a trough; for a ring or cross around its lines.
    """

    shape: str
    line: str
    fill: str
    size_mm: float
    line_mm: float = 0.25
    core: str = ""


@dataclass(frozen=True)
class TextStyle:
    """How text is written.

    Attributes
    ----------
    colour : str
        ``#rrggbb``.
    size_mm : float
        Size of type. [mm]
    weight : str
        ``regular``, ``semibold`` or ``bold``.
    italic : bool
        Slanted, as water is named by custom.
    halo : str
        Colour around the letters, "" for none.
    halo_mm : float
        How far it reaches. [mm]
    """

    colour: str
    size_mm: float
    weight: str = "regular"
    italic: bool = False
    halo: str = ""
    halo_mm: float = 0.35


@dataclass(frozen=True)
class Theme:
    """One look of the map.

    Attributes
    ----------
    name : str
        ``light``, ``dark`` or ``paper``.
    outside, inside : str
        Ground off the farm and on it.
    ink, faint : str
        Text and outlines; text of less weight.
    picked : str
        What is picked out.
    unmeasured : str
        Outline of trees without a diameter.
    gone : str
        Crosses for dead and felled trees.
    outline_mm : float
        Ring around a tree. [mm]
    areas, lines, marks, texts : mapping
        Styles by what they are for; ``... planned`` for what does not stand yet.
    """

    name: str
    outside: str
    inside: str
    ink: str
    faint: str
    picked: str
    unmeasured: str
    gone: str
    outline_mm: float
    areas: Mapping[str, AreaStyle]
    lines: Mapping[str, LineStyle]
    marks: Mapping[str, MarkStyle]
    texts: Mapping[str, TextStyle]

    def grounds(self) -> tuple[str, ...]:
        """Every colour that text and lines may lie on."""
        fills = [self.areas[name].fill for name in ("blocks", "margins")]
        return (self.outside, self.inside, *fills)


@dataclass(frozen=True)
class _Colours:
    """What differs between themes."""

    outside: str
    inside: str
    block: str
    block_line: str
    margin: str
    water: str
    water_inside: str
    ink: str
    faint: str
    fence: str
    track: str
    track_inside: str
    building: str
    hazard: str
    hazard_band: str
    boundary: str
    crown: str
    picked: str
    gone: str
    contour: str
    contour_faint: str
    crop: str
    take: str


_LIGHT = _Colours(
    outside="#EBE8DF",
    inside="#FAF8F2",
    block="#E5ECD6",
    block_line="#56663F",
    margin="#CBE3EF",
    water="#00548C",
    water_inside="#9CCBE6",
    ink="#1E211D",
    faint="#4A4F47",
    fence="#6B3A1E",
    track="#5F5A50",
    track_inside="#FFFDF6",
    building="#4C4843",
    hazard="#96003A",
    hazard_band="#E8A0B4",
    boundary="#3C2A4D",
    crown="#5F8A3C",
    picked="#B3005E",
    gone="#5E5C58",
    contour="#7A4A28",
    contour_faint="#BAA18D",  # half-way to the ground: there are many, and the map lies over them
    crop="#003F7D",
    take="#A82A00",
)
_PAPER = replace(_LIGHT, outside="#F4F3EF", inside="#FFFFFF", block="#EAF0DF", margin="#D3E8F2", track_inside="#FFFFFF")
_DARK = _Colours(
    outside="#171A18",
    inside="#20241F",
    block="#2B3728",
    block_line="#A9BE8F",
    margin="#1D3A49",
    water="#7CC6F2",
    water_inside="#245A78",
    ink="#F1EEE4",
    faint="#C4C3B8",
    fence="#E3B48F",
    track="#BFB8A8",
    track_inside="#3A3B36",
    building="#CFC8BC",
    hazard="#FF9DB8",
    hazard_band="#8A3A55",
    boundary="#D9C3EE",
    crown="#8FBF68",
    picked="#FF8AD0",
    gone="#AFADA6",
    contour="#C7A27C",
    contour_faint="#74634E",
    crop="#A8D8FF",
    take="#FFA183",
)


def theme(name: str) -> Theme:
    """Return the theme of that name.

    Parameters
    ----------
    name : str
        ``light``, ``dark`` or ``paper``.

    Raises
    ------
    BadInput
        There is no such theme.
    """
    found = THEMES.get(name)
    if found is None:
        raise BadInput(f"there is no theme '{name}'; choose {', '.join(THEMES)}")
    return found


def with_text(look: Theme, times: float) -> Theme:
    """Return a theme whose names are so many times as large."""
    texts = {
        name: replace(style, size_mm=style.size_mm * times, halo_mm=style.halo_mm * times)
        for name, style in look.texts.items()
    }
    return replace(look, texts=texts)


def _theme(name: str, colours: _Colours, text: float) -> Theme:
    return Theme(
        name,
        colours.outside,
        colours.inside,
        colours.ink,
        colours.faint,
        colours.picked,
        colours.ink,
        colours.gone,
        0.18,
        _areas(colours),
        _lines(colours),
        _marks(colours),
        _texts(colours, text),
    )


def _areas(c: _Colours) -> dict[str, AreaStyle]:
    return {
        "farm": AreaStyle(fill=c.inside),
        "boundary": AreaStyle(line=c.boundary, line_mm=0.6, dash=(4.0, 1.0, 0.6, 1.0)),
        "blocks": AreaStyle(fill=c.block, line=c.block_line, line_mm=0.3),
        "blocks planned": AreaStyle(line=c.block_line, line_mm=0.3, dash=(1.6, 1.0)),
        "margins": AreaStyle(fill=c.margin, opacity=0.85, line=c.water, line_mm=0.12, dash=(0.8, 0.8)),
        "margins planned": AreaStyle(line=c.water, line_mm=0.15, dash=(0.8, 0.8)),
        "clearance": AreaStyle(fill=c.hazard_band, opacity=0.28),
        "building": AreaStyle(fill=c.building, line=c.ink, line_mm=0.15),
        "building planned": AreaStyle(line=c.building, line_mm=0.3, dash=(1.0, 0.7)),
        "hazard area": AreaStyle(fill=c.hazard_band, opacity=0.4, line=c.hazard, line_mm=0.3),
        "hazard area planned": AreaStyle(line=c.hazard, line_mm=0.3, dash=(1.0, 0.7)),
        "note area": AreaStyle(line=c.faint, line_mm=0.25, dash=(0.4, 0.8)),
        "crowns": AreaStyle(fill=c.crown, opacity=0.22),
        "crowns forecast": AreaStyle(fill=c.crown, opacity=0.22, line=c.faint, line_mm=0.2, dash=(1.0, 0.7)),
        "plots": AreaStyle(fill=c.inside, opacity=0.35, line=c.ink, line_mm=0.35),
        "plots planned": AreaStyle(line=c.ink, line_mm=0.3, dash=(1.0, 0.7)),
        "relief": AreaStyle(fill=c.ink, opacity=0.3),
        "picture": AreaStyle(fill=c.crown, opacity=0.7, line=c.faint, line_mm=0.15),
        "no picture": AreaStyle(line=c.faint, line_mm=0.15, dash=(0.6, 0.6)),
        "block picked": AreaStyle(line=c.picked, line_mm=0.9),
        "margin picked": AreaStyle(line=c.picked, line_mm=0.8),
    }


def _lines(c: _Colours) -> dict[str, LineStyle]:
    full = {
        "creeks": LineStyle(c.water, 0.45, inside=c.water_inside, edge_mm=0.18, arrow_every_mm=50.0),
        "bank": LineStyle(c.water, 0.45, arrow_every_mm=50.0),
        "fences": LineStyle(c.fence, 0.28, tick_mm=1.2, tick_every_mm=4.0),
        "tracks": LineStyle(c.track, 0.95, inside=c.track_inside, edge_mm=0.2),
        "power line": LineStyle(c.hazard, 0.3, tick_mm=1.8, tick_every_mm=9.0, caution_every_mm=75.0),
        "pipeline": LineStyle(c.hazard, 0.4, dash=(3.0, 0.8, 0.5, 0.8)),
        "drain": LineStyle(c.water, 0.3, dash=(2.2, 0.7)),
        "other": LineStyle(c.hazard, 0.35, dash=(1.2, 0.6), caution_every_mm=70.0),
        "building": LineStyle(c.building, 0.5),
        "contours": LineStyle(c.contour_faint, 0.1),
        "index contours": LineStyle(c.contour, 0.16),
        "note line": LineStyle(c.faint, 0.25, dash=(0.4, 0.8)),
    }
    planned = {f"{name} planned": replace(style, dash=(1.4, 1.0), inside="") for name, style in full.items()}
    planned["tracks planned"] = replace(planned["tracks planned"], width_mm=0.4)
    return full | planned


def _marks(c: _Colours) -> dict[str, MarkStyle]:
    return {
        "caution": MarkStyle("caution", "#1E211D", "#F0E442", 3.2, 0.25),
        "building": MarkStyle("square", c.ink, c.building, 1.4, 0.15),
        "hazard": MarkStyle("caution", "#1E211D", "#F0E442", 3.2, 0.25),
        "notes": MarkStyle("note", c.ink, c.inside, 2.8, 0.22),
        "strainer": MarkStyle("square", c.inside, c.fence, 1.5, 0.25),
        "gate": MarkStyle("gate", c.fence, c.inside, 2.4, 0.35),
        "floodgate": MarkStyle("floodgate", c.inside, c.water, 2.4, 0.25),
        "trough": MarkStyle("trough", c.fence, c.inside, 2.4, 0.3, c.water),
        "plot": MarkStyle("peg", c.ink, "", 1.6, 0.3),
        "angle count": MarkStyle("angle", c.ink, c.inside, 3.8, 0.22),
        "tree picked": MarkStyle("ring", c.picked, "", 6.0, 0.7),
        "crop": MarkStyle("ring", c.crop, "", 2.6, 0.5, c.inside),
        "take": MarkStyle("cross", c.take, "", 2.6, 0.5, c.inside),
    }


def _texts(c: _Colours, scale: float) -> dict[str, TextStyle]:
    def text(colour: str, points: float, weight: str = "regular", *, italic: bool = False) -> TextStyle:
        return TextStyle(colour, points * POINT_MM * scale, weight, italic, c.inside, 0.5)

    return {
        "blocks": text(c.ink, 8.5, "semibold"),
        "creeks": text(c.water, 8.0, italic=True),
        "fences": text(c.fence, 7.0),
        "tracks": text(c.faint, 7.0),
        "hazards": text(c.hazard, 7.0, "semibold"),
        "drains": text(c.water, 7.0, italic=True),
        "notes": text(c.ink, 7.0, italic=True),
        "plots": text(c.ink, 7.0, "semibold"),
        "tags": text(c.ink, 6.2),
        "contours": text(c.contour, 6.2),
    }


THEMES: dict[str, Theme] = {
    "light": _theme("light", _LIGHT, 1.3),
    "dark": _theme("dark", _DARK, 1.3),
    "paper": _theme("paper", _PAPER, 1.0),
}
"""The looks there are. Text on a screen is larger, as it is read from farther away."""


def contrast(one: str, other: str) -> float:
    """Contrast of two colours, 1 to 21.

    Source: W3C, Web Content Accessibility Guidelines 2.1, definition of contrast ratio; level AA asks 4.5 for text
    and 3 for the outlines of things.
    """
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def mixed(fill: str, opacity: float, ground: str) -> str:
    """Colour of a see-through fill on a ground, ``#RRGGBB``."""
    parts = [
        round(opacity * over + (1 - opacity) * under) for over, under in zip(_parts(fill), _parts(ground), strict=True)
    ]
    return "#{:02X}{:02X}{:02X}".format(*parts)


def ink_on(fill: str) -> str:
    """Black or white, whichever reads better on a fill."""
    return max(("#000000", "#FFFFFF"), key=lambda ink: contrast(ink, fill))


def _parts(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def _luminance(colour: str) -> float:
    linear = [part / 255 / 12.92 if part / 255 <= 0.03928 else ((part / 255 + 0.055) / 1.055) ** 2.4
              for part in _parts(colour)]  # fmt: skip
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
