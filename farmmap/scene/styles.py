"""The looks of the map: a light and a dark one for the screen, and three for paper.

Sizes are in millimetres of picture and keep to the usual smallest sizes of
print: text 6 pt; lines 0.1 mm, 0.2 mm where copies are made; filled symbols
0.3 mm for a dot and 0.6 mm for a square, open ones 1.0 mm; gaps 0.2 mm.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from farmmap.errors import BadInput
from farmmap.scene.colours import contrast, ink_on, mixed
from farmmap.scene.looks import (
    DARK,
    LIGHT,
    PAPER,
    PLAIN,
    PLAIN_FILLS,
    SAFE,
    Colours,
    plain_areas,
    plain_lines,
    plain_marks,
    safe_areas,
)
from farmmap.scene.style_kinds import CAUTION, AreaStyle, Hatch, LineStyle, MarkStyle, TextStyle, Theme

__all__ = [
    "LEAST_DOT_MM",
    "LEAST_FILLED_MM",
    "LEAST_GAP_MM",
    "LEAST_LINE_MM",
    "LEAST_OPEN_MM",
    "LEAST_TEXT_MM",
    "LOOKS",
    "POINT_MM",
    "THEMES",
    "AreaStyle",
    "Hatch",
    "LineStyle",
    "MarkStyle",
    "TextStyle",
    "Theme",
    "contrast",
    "ink_on",
    "mixed",
    "theme",
    "with_text",
]

POINT_MM = 25.4 / 72
"""One point of type. [mm]"""

LEAST_TEXT_MM = 6 * POINT_MM
LEAST_LINE_MM = 0.1
LEAST_GAP_MM = 0.2
LEAST_DOT_MM = 0.3
LEAST_FILLED_MM = 0.6
LEAST_OPEN_MM = 1.0

LOOKS: Mapping[str, str] = {"colour": "paper", "safe": "paper safe", "grey": "paper grey"}
"""Themes of the looks that a page may be given."""


def theme(name: str) -> Theme:
    """Return the theme of that name.

    Parameters
    ----------
    name : str
        One of `THEMES`.

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


def _theme(name: str, colours: Colours, text: float, least_ring_mm: float = 0.0) -> Theme:
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
        least_ring_mm=least_ring_mm,
    )


def _safe(name: str, colours: Colours) -> Theme:
    full = _theme(name, colours, 1.0, 0.1)
    return replace(full, areas=safe_areas(full.areas))


def _plain(name: str, colours: Colours) -> Theme:
    """Return a look without colours: see `farmmap.scene.looks`."""
    full = _theme(name, colours, 1.0, 0.15)
    return replace(
        full,
        areas=plain_areas(full.areas),
        lines=plain_lines(full.lines),
        marks=plain_marks(full.marks),
        fills=PLAIN_FILLS,
        small=colours.ink,
        least_symbol_mm=0.85,
        picture_strength=0.35,
        is_grey=True,
    )


def _areas(c: Colours) -> dict[str, AreaStyle]:
    return {
        "farm": AreaStyle(fill=c.inside),
        "boundary": AreaStyle(line=c.boundary, line_mm=0.6, dash=(4.0, 1.0, 0.6, 1.0)),
        "blocks": AreaStyle(fill=c.block, line=c.block_line, line_mm=0.3),
        "blocks planned": AreaStyle(line=c.block_line, line_mm=0.3, dash=(1.6, 1.0)),
        "margins": AreaStyle(fill=c.margin, opacity=0.85, line=c.water, line_mm=0.12, dash=(0.8, 0.8)),
        "margins planned": AreaStyle(line=c.water, line_mm=0.15, dash=(0.8, 0.8)),
        "clearance": AreaStyle(fill=c.hazard_band, opacity=0.38),
        "building": AreaStyle(fill=c.building, line=c.ink, line_mm=0.15),
        "building planned": AreaStyle(line=c.building, line_mm=0.3, dash=(1.0, 0.7)),
        "hazard area": AreaStyle(fill=c.hazard_band, opacity=0.55, line=c.hazard, line_mm=0.3),
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


def _lines(c: Colours) -> dict[str, LineStyle]:
    sign = replace(CAUTION, line=c.caution_ink, fill=c.caution)
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
    full = {name: replace(style, caution=sign) for name, style in full.items()}
    planned = {f"{name} planned": replace(style, dash=(1.4, 1.0), inside="") for name, style in full.items()}
    planned["tracks planned"] = replace(planned["tracks planned"], width_mm=0.4)
    return full | planned


def _marks(c: Colours) -> dict[str, MarkStyle]:
    return {
        "caution": MarkStyle("caution", c.caution_ink, c.caution, 3.2, 0.25),
        "building": MarkStyle("square", c.ink, c.building, 1.4, 0.15),
        "hazard": MarkStyle("caution", c.caution_ink, c.caution, 3.2, 0.25),
        "notes": MarkStyle("note", c.ink, c.inside, 2.8, 0.22),
        "strainer": MarkStyle("square", c.inside, c.fence, 1.5, 0.25),
        "gate": MarkStyle("gate", c.fence, c.inside, 2.4, 0.35),
        "floodgate": MarkStyle("floodgate", c.inside, c.water, 2.4, 0.25),
        "trough": MarkStyle("trough", c.fence, c.inside, 2.4, 0.3, c.water),
        "plot": MarkStyle("peg", c.ink, "", 1.6, 0.3),
        "photo point": MarkStyle("view", c.ink, c.inside, 4.0, 0.3, c.inside),
        "angle count": MarkStyle("angle", c.ink, c.inside, 3.8, 0.22),
        "tree picked": MarkStyle("ring", c.picked, "", 6.0, 0.7),
        "crop": MarkStyle("ring", c.crop, "", 2.6, 0.5, c.inside),
        "take": MarkStyle("cross", c.take, "", 2.6, 0.5, c.inside),
    }


def _texts(c: Colours, scale: float) -> dict[str, TextStyle]:
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
        "photo_points": text(c.ink, 7.0, "semibold"),
        "tags": text(c.ink, 6.2),
        "contours": text(c.contour, 6.2),
    }


THEMES: dict[str, Theme] = {
    "light": _theme("light", LIGHT, 1.3),
    "dark": _theme("dark", DARK, 1.3),
    "paper": _theme("paper", PAPER, 1.0, 0.1),
    "paper safe": _safe("paper safe", SAFE),
    "paper grey": _plain("paper grey", PLAIN),
}
"""All themes. Text on a screen is larger, as it is read from farther away."""
