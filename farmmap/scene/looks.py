"""The colours of each look, and the hatches of the one that has none."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from farmmap.scene.colours import OKABE_ITO, UNKNOWN_COLOUR, YELLOW, mixed
from farmmap.scene.style_kinds import AreaStyle, Hatch, LineStyle, MarkStyle


@dataclass(frozen=True)
class Colours:
    """What differs between looks."""

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
    caution: str = YELLOW
    caution_ink: str = "#1E211D"


LIGHT = Colours(
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
PAPER = replace(LIGHT, outside="#F4F3EF", inside="#FFFFFF", block="#EAF0DF", margin="#D3E8F2", track_inside="#FFFFFF")
DARK = Colours(
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

SAFE = Colours(
    outside="#F2F2F2",
    inside="#FFFFFF",
    block="#CCDDAA",
    block_line="#225522",
    margin="#CCEEFF",
    water="#332288",
    water_inside="#88CCEE",
    ink="#000000",
    faint="#555555",
    fence="#663333",
    track="#555555",
    track_inside="#FFFFFF",
    building="#555555",
    hazard="#882255",
    hazard_band="#CC6677",
    boundary="#222255",
    crown="#117733",
    picked="#882255",
    gone="#555555",
    contour="#555555",
    contour_faint=mixed("#555555", 0.5, "#FFFFFF"),  # half-way to the ground, as above
    crop="#332288",
    take="#882255",
    caution_ink="#000000",
)
"""Colours that people of every colour vision tell apart where something else does not; black, white and greys besides.

Source: Tol, P. (2021), Colour schemes, SRON technical note SRON/EPS/TN/09-002, issue 3.2: its schemes "muted", for
what is drawn, "pale", for grounds, and "dark", for lines and text. Species keep the colours of Okabe and Ito, see
`farmmap.scene.colours.OKABE_ITO`.
"""

BLACK, DARK_GREY, GREY, PALE_GREY, WHITE = "#000000", "#5A5A5A", "#8A8A8A", "#C4C4C4", "#FFFFFF"
"""All that the grey look is drawn with. A photocopy makes the first two black and the others white, and letters stay
readable in both."""

PLAIN = Colours(
    outside=WHITE,
    inside=WHITE,
    block="",
    block_line=BLACK,
    margin="",
    water=BLACK,
    water_inside=PALE_GREY,
    ink=BLACK,
    faint=BLACK,
    fence=BLACK,
    track=BLACK,
    track_inside=WHITE,
    building=DARK_GREY,
    hazard=BLACK,
    hazard_band="",
    boundary=BLACK,
    crown=PALE_GREY,
    picked=BLACK,
    gone=DARK_GREY,
    contour=DARK_GREY,
    contour_faint=GREY,
    crop=BLACK,
    take=BLACK,
    caution=WHITE,
    caution_ink=BLACK,
)
"""Black and white, for print and photocopies: the rest is told by hatches, dashes, weights and shapes."""

PLAIN_FILLS: Mapping[str, str] = dict(
    zip(
        (*OKABE_ITO, UNKNOWN_COLOUR),
        (PALE_GREY, DARK_GREY, GREY, WHITE, DARK_GREY, GREY, WHITE, DARK_GREY),
        strict=True,
    )
)
"""Greys of the species. Three colours that follow each other never share one, so that the first 18 species of a farm
differ in grey or in shape, and so does the circle of trees whose species is not given."""

_HATCH_MM = 0.1
_SAFE_LINE_MM = 0.2
_LESS_THAN_SAFE = ("contours", "index contours")
"""Lines that may be lost in a copy, as the map lies over them."""


def safe_areas(areas: Mapping[str, AreaStyle]) -> dict[str, AreaStyle]:
    """Return areas of the look for every colour vision: what is pale and red is hatched, or some take it for green."""
    slanted = Hatch(1.7, 45.0, 0.12, SAFE.hazard)
    changed: dict[str, dict[str, Any]] = {
        "clearance": {"hatch": slanted},
        "hazard area": {"hatch": replace(slanted, crossed=True)},
        "crowns": {"opacity": 0.35},
        "crowns forecast": {"opacity": 0.35},
    }
    return {name: replace(style, **changed.get(name, {})) for name, style in areas.items()}


def plain_areas(areas: Mapping[str, AreaStyle]) -> dict[str, AreaStyle]:
    """Return areas of the grey look: told apart by hatches, which are so light that names and trees stay readable."""

    def hatch(spacing_mm: float, angle_deg: float, *, crossed: bool = False) -> Hatch:
        return Hatch(spacing_mm, angle_deg, _HATCH_MM, BLACK, crossed)

    falling = hatch(1.7, -45.0)
    changed: dict[str, dict[str, Any]] = {
        "margins": {"hatch": hatch(1.3, 0.0), "dash": (1.2, 0.6)},
        "margins planned": {"dash": (1.2, 0.6)},
        "clearance": {"hatch": hatch(1.7, 45.0), "line": BLACK, "dash": (0.3, 0.6)},
        "hazard area": {"hatch": hatch(1.7, 45.0, crossed=True)},
        "crowns": {"hatch": falling, "opacity": 0.35},
        "crowns forecast": {"hatch": falling, "opacity": 0.35},
        "plots": {"opacity": 0.0},
    }
    made = {name: replace(style, **changed.get(name, {})) for name, style in areas.items()}
    return {name: replace(style, line_mm=max(style.line_mm, _SAFE_LINE_MM)) for name, style in made.items()}


def plain_lines(lines: Mapping[str, LineStyle]) -> dict[str, LineStyle]:
    """Return lines of the grey look: none finer than a copy keeps, and more arrows, as nothing else tells of water."""
    return {
        name: style
        if name in _LESS_THAN_SAFE
        else replace(
            style,
            width_mm=max(style.width_mm, _SAFE_LINE_MM),
            edge_mm=max(style.edge_mm, _SAFE_LINE_MM),
            arrow_every_mm=style.arrow_every_mm / 2,
        )
        for name, style in lines.items()
    }


def plain_marks(marks: Mapping[str, MarkStyle]) -> dict[str, MarkStyle]:
    """Return marks of the grey look."""
    return {name: replace(style, line_mm=max(style.line_mm, _SAFE_LINE_MM)) for name, style in marks.items()}
