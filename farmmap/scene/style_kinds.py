"""What the styles of the map are made of: hatches, areas, lines, marks, texts and whole themes, in millimetres."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from farmmap.scene.colours import mixed


@dataclass(frozen=True)
class Hatch:
    """Even strokes over an area.

    Attributes
    ----------
    spacing_mm : float
        From the middle of one stroke to that of the next. [mm]
    angle_deg : float
        How strokes run, from left to right towards the top. [degrees]
    line_mm : float
        Weight of a stroke. [mm]
    colour : str
        ``#rrggbb``.
    crossed : bool
        Whether as many strokes run square across.
    """

    spacing_mm: float
    angle_deg: float
    line_mm: float
    colour: str
    crossed: bool = False

    @property
    def angles_deg(self) -> tuple[float, ...]:
        """How the strokes run."""
        return (self.angle_deg, self.angle_deg + 90.0) if self.crossed else (self.angle_deg,)


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
    hatch : Hatch or None
        Strokes over the fill.
    """

    fill: str = ""
    opacity: float = 1.0
    line: str = ""
    line_mm: float = 0.2
    dash: tuple[float, ...] = ()
    hatch: Hatch | None = None


@dataclass(frozen=True)
class MarkStyle:
    """How a single point is drawn.

    Attributes
    ----------
    shape : str
        ``caution``, ``note``, ``ring``, ``cross``, ``gate``, ``trough``, ``floodgate``, ``peg``,
        ``angle``, ``view`` or one of `farmmap.scene.symbols.SHAPES`.
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


CAUTION = MarkStyle("caution", "#1E211D", "#F0E442", 3.0, 0.25)
"""A caution sign along a line."""


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
    caution : MarkStyle
        That sign.
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
    caution: MarkStyle = CAUTION


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
        One of `farmmap.scene.styles.THEMES`.
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
    fills : mapping of str to str
        What is drawn for a colour of a species or zone, where it is another one.
    small : str
        Colour of symbols too small to have a ring, "" for that of their species.
    least_ring_mm : float
        Least weight of the ring around a symbol, however small, 0 where small ones have none. [mm]
    least_symbol_mm : float
        Least width of the symbol of a standing tree, 0 for that of `farmmap.scene.sizes`. [mm]
    picture_strength : float
        How strong pictures under the map are, 0 to 1.
    is_grey : bool
        Whether all of it is black, white and grey.
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
    fills: Mapping[str, str] = field(default_factory=dict)
    small: str = ""
    least_ring_mm: float = 0.0
    least_symbol_mm: float = 0.0
    picture_strength: float = 1.0
    is_grey: bool = False

    def grounds(self) -> tuple[str, ...]:
        """Every colour that text and lines may lie on."""
        fills = [style for name in ("blocks", "margins") if (style := self.areas[name]).fill]
        over = {style.fill for style in fills} | {mixed(style.fill, style.opacity, self.inside) for style in fills}
        return (self.outside, self.inside, *sorted(over))

    def fill_of(self, colour: str) -> str:
        """Return what is drawn for the colour of a species or zone."""
        return self.fills.get(colour, colour)
