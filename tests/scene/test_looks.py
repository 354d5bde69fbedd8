"""Every look: contrast, smallest sizes, and what tells things apart for every colour vision and on a photocopy."""

import dataclasses
import itertools

import pytest

from farmmap.scene.backdrops import SHADES
from farmmap.scene.looks import SAFE
from farmmap.scene.planting_layer import HATCHES, ZONE_COLOURS, zone_colours
from farmmap.scene.sizes import UNMEASURED_MM, outline_mm
from farmmap.scene.styles import (
    LEAST_GAP_MM,
    LEAST_LINE_MM,
    LEAST_OPEN_MM,
    LEAST_TEXT_MM,
    LOOKS,
    THEMES,
    AreaStyle,
    contrast,
    ink_on,
    mixed,
    theme,
)
from farmmap.scene.symbols import OKABE_ITO, SHAPES, UNKNOWN_COLOUR, SpeciesSymbol, species_symbols
from tests.scene.colour_vision import VISION, apart
from tests.scene.test_symbols import farm_with

TEXT, THING = 4.5, 3.0
"""Least contrast of text and of the outlines of things, W3C Web Content Accessibility Guidelines 2.1, level AA."""

PLAIN_TO_SEE = 10.0
"""Least CIEDE2000 distance of two fills of one shape. 1 can just be seen on fields side by side; small symbols that lie
apart need many times that. The bound is ours: there is no published one for symbols of a millimetre."""

SIDE_BY_SIDE = 5.0
"""Least distance of the tints of two kinds of ground that nothing else tells apart; ours too."""

COPIES_BLACK = 128
"""A grey darker than this is black in a copy of two tones, one that is not is white."""

FAINT = {"contours", "contours planned"}
"""May be lost, as the map lies over them; every fifth is drawn stronger."""

every_look = pytest.mark.parametrize("look", THEMES.values(), ids=lambda look: look.name)
paper_look = pytest.mark.parametrize("look", [theme(name) for name in LOOKS.values()], ids=lambda look: look.name)
GREY = theme(LOOKS["grey"])


def colours_in(value):
    """Return every ``#rrggbb`` in a theme or style, whatever it is made of."""
    if isinstance(value, str):
        return {value} if value.startswith("#") else set()
    if dataclasses.is_dataclass(value):
        return colours_in([getattr(value, field.name) for field in dataclasses.fields(value) if field.name != "fills"])
    if isinstance(value, dict):
        return colours_in(list(value.values()))
    return set().union(*map(colours_in, value)) if isinstance(value, (list, tuple)) else set()


def many_symbols(count):
    return list(species_symbols(farm_with([f"tree {number}" for number in range(count)])).values())


def told_apart(one, other, look, vision):
    """Whether two symbols differ in shape or inside, or plainly in what fills them."""
    if (one.shape, one.mark) != (other.shape, other.mark):
        return True
    return apart(look.fill_of(one.colour), look.fill_of(other.colour), vision) >= PLAIN_TO_SEE


def test_a_page_is_given_one_of_three_looks():
    assert list(LOOKS) == ["colour", "safe", "grey"]
    assert [theme(name).name for name in LOOKS.values()] == ["paper", "paper safe", "paper grey"]


@every_look
def test_letters_read_on_every_symbol_of_every_look(look):
    fills = [look.fill_of(colour) for colour in (*OKABE_ITO, UNKNOWN_COLOUR)]
    assert all(contrast(ink_on(fill), fill) >= TEXT for fill in fills)


@every_look
def test_symbols_and_marks_are_set_off_from_every_ground(look):
    for ground in look.grounds():
        assert contrast(look.ink, ground) >= THING  # the ring
        for colour in (*OKABE_ITO, UNKNOWN_COLOUR):  # the line around a tree that is not measured
            assert contrast(mixed(look.fill_of(colour), 0.0 if look.fills else 0.45, look.ink), ground) >= THING
        for name, mark in look.marks.items():
            seen_by = [colour for colour in (mark.line, mark.fill) if colour]
            assert max(contrast(colour, ground) for colour in seen_by) >= THING, name


@every_look
def test_rings_and_crosses_stand_out_from_their_own_edging_and_from_symbols(look):
    for name in ("crop", "take"):
        assert contrast(look.marks[name].line, look.marks[name].core) >= THING


@every_look
def test_text_reads_on_its_halo_over_anything(look):
    for name, style in look.texts.items():
        assert contrast(style.colour, style.halo) >= TEXT, name


@every_look
def test_strokes_and_outlines_of_zones_stand_out(look):
    for colour in ZONE_COLOURS:
        zone = dataclasses.make_dataclass("Zone", ["colour"])(colour)
        tint, stroke = zone_colours(zone, look)
        assert contrast(stroke, mixed(tint, 0.2, look.inside)) >= THING
    assert len(HATCHES) == len(set(HATCHES)) >= len(ZONE_COLOURS)


@paper_look
def test_every_standing_tree_on_paper_has_a_ring(look):
    for size in (0.6, 0.79, 0.8, 1.0, 2.5, 10.0):
        assert outline_mm(max(size, look.least_symbol_mm), look.outline_mm, look.least_ring_mm) >= LEAST_LINE_MM


@every_look
def test_type_lines_gaps_and_hatches_keep_to_the_least_sizes(look):
    assert all(style.size_mm >= LEAST_TEXT_MM for style in look.texts.values())
    dashed = [style for style in (*look.areas.values(), *look.lines.values()) if style.dash]
    assert all(gap >= LEAST_GAP_MM for style in dashed for gap in style.dash[1::2])
    hatches = [area.hatch for area in look.areas.values() if area.hatch]
    assert all(hatch.line_mm >= LEAST_LINE_MM for hatch in hatches)
    assert all(hatch.spacing_mm - hatch.line_mm >= LEAST_GAP_MM for hatch in hatches)
    for name, line in look.lines.items():
        if line.tick_mm:
            assert line.tick_every_mm - 0.22 >= LEAST_GAP_MM, name


@paper_look
def test_hatches_are_quiet(look):
    """No more than a seventh of the ground is ink, so that names and trees are read over it."""
    for name, area in look.areas.items():
        if area.hatch:
            assert len(area.hatch.angles_deg) * area.hatch.line_mm / area.hatch.spacing_mm <= 1 / 7, name


def test_the_grey_look_is_black_white_and_a_few_greys():
    used = colours_in(GREY) | {GREY.fill_of(colour) for colour in (*OKABE_ITO, UNKNOWN_COLOUR)}
    assert all(colour[1:3] == colour[3:5] == colour[5:7] for colour in used), used
    assert {"#000000", "#FFFFFF"} <= used
    assert len(used - {"#000000", "#FFFFFF"}) <= 3
    assert GREY.is_grey
    assert not any(look.is_grey for look in THEMES.values() if look is not GREY)


def test_the_grey_look_survives_a_photocopy():
    def black(colour):
        return int(colour[1:3], 16) < COPIES_BLACK

    lines = {name: style for name, style in GREY.lines.items() if name not in FAINT}
    assert all(black(style.colour) for style in lines.values())
    assert all(style.width_mm >= 0.2 for name, style in lines.items() if not name.startswith("index contours"))
    assert all(black(style.line) and style.line_mm >= 0.2 for style in GREY.areas.values() if style.line)
    assert all(black(style.hatch.colour) for style in GREY.areas.values() if style.hatch)
    assert all(black(style.colour) for style in GREY.texts.values())
    assert all(black(style.line) or black(style.fill) for style in GREY.marks.values())
    assert black(GREY.gone)
    for colour in (*OKABE_ITO, UNKNOWN_COLOUR):  # a letter and its ground do not both become black, nor white
        fill = GREY.fill_of(colour)
        assert black(ink_on(fill)) != black(fill)


def test_symbols_of_the_grey_look_are_wide_enough_to_stay_open():
    assert GREY.least_symbol_mm + GREY.least_ring_mm >= LEAST_OPEN_MM
    assert UNMEASURED_MM >= LEAST_OPEN_MM


@paper_look
@pytest.mark.parametrize("vision", VISION)
def test_species_are_told_apart_in_every_vision(look, vision):
    several = 18 if look.is_grey else len(OKABE_ITO) * len(SHAPES)
    *symbols, unknown = many_symbols(several)
    confused = [
        (one.colour, other.colour, one.shape)
        for one, other in itertools.combinations([*symbols, unknown], 2)
        if not told_apart(one, other, look, vision)
    ]
    assert not confused


@every_look
def test_species_are_told_apart_on_the_screen_as_on_paper(look):
    fills = {look.fill_of(colour) for colour in OKABE_ITO}
    assert all(
        apart(one, other, vision) >= PLAIN_TO_SEE
        for one, other in itertools.combinations(fills, 2)
        for vision in VISION
    )


def test_symbols_that_share_all_else_are_found_out():
    one, other = (
        SpeciesSymbol(code, code, colour, "circle", code) for code, colour in (("A", "#AA7909"), ("B", "#898430"))
    )
    assert told_apart(one, other, theme("paper"), "usual")
    assert not told_apart(one, other, theme("paper"), "protanopia")


def test_all_species_of_a_large_farm_differ_by_letter_at_least():
    letters = [symbol.letter for symbol in many_symbols(60)]
    assert len(set(letters)) == len(letters)


@paper_look
def test_planned_things_differ_from_existing_ones_by_more_than_colour(look):
    for kind in (look.areas, look.lines):
        for name in kind:
            if name.endswith(" planned"):
                there, planned = kind[name.removesuffix(" planned")], kind[name]
                assert planned.dash, name
                assert not planned.fill if isinstance(planned, AreaStyle) else not planned.inside
                assert planned.dash != there.dash or there.fill or there.hatch, name


def form_of(style):
    """Return what of a line is no colour and no mere weight."""
    return (style.dash, bool(style.inside), style.tick_mm, style.arrow_every_mm > 0, style.caution_every_mm > 0)


@paper_look
def test_lines_are_told_apart_by_their_form(look):
    names = ("creeks", "fences", "tracks", "power line", "pipeline", "drain", "other", "building", "note line")
    boundary = look.areas["boundary"]
    forms = {name: form_of(look.lines[name]) for name in names} | {"boundary": (boundary.dash,)}
    assert len(set(forms.values())) == len(forms)


GROUNDS = (
    "farm",
    "blocks",
    "blocks planned",
    "margins",
    "margins planned",
    "clearance",
    "building",
    "hazard area",
    "crowns",
    "water",
)


def ground_of(look, name):
    if name == "water":
        return AreaStyle(fill=look.lines["creeks"].inside, line=look.lines["creeks"].colour)
    return look.areas[name]


@every_look
@pytest.mark.parametrize("vision", VISION)
def test_kinds_of_ground_are_told_apart_in_every_vision(look, vision):
    for one, other in itertools.combinations(GROUNDS, 2):
        first, second = ground_of(look, one), ground_of(look, other)
        tints = [mixed(area.fill, area.opacity, look.inside) if area.fill else look.inside for area in (first, second)]
        by_form = (bool(first.line), first.dash, first.hatch) != (bool(second.line), second.dash, second.hatch)
        assert by_form or apart(*tints, vision) >= SIDE_BY_SIDE, (one, other)


def test_grounds_of_the_grey_look_differ_without_their_greys():
    def form(style):
        return (bool(style.line), style.dash, style.hatch)

    forms = [form(GREY.areas[name]) for name in GROUNDS if name not in {"building", "water", "crowns"}]
    assert len(set(forms)) == len(forms)
    assert GREY.areas["crowns"].hatch not in {
        GREY.areas[name].hatch for name in ("margins", "clearance", "hazard area")
    }


def test_every_look_says_how_relief_is_shaded_and_the_grey_one_keeps_it_out_of_copies():
    assert set(SHADES) == set(THEMES)
    darkest = mixed("#000000", SHADES["paper grey"][0], "#FFFFFF")
    assert int(darkest[1:3], 16) > COPIES_BLACK + 30
    assert 0.2 <= GREY.picture_strength <= 0.5  # black under it is lighter than a copy's limit
    assert int(mixed("#000000", GREY.picture_strength, "#FFFFFF")[1:3], 16) > COPIES_BLACK


MUTED = ("332288", "88CCEE", "44AA99", "117733", "999933", "DDCC77", "CC6677", "882255", "AA4499")
PALE = ("BBCCEE", "CCEEFF", "CCDDAA", "EEEEBB", "FFCCCC", "DDDDDD")
DARK = ("222255", "225555", "225522", "666633", "663333", "555555")


def test_the_look_for_every_vision_is_made_of_published_colours():
    """Tol (2021), schemes muted, pale and dark; yellow is that of Okabe and Ito (2008)."""
    published = {f"#{colour}" for colour in (*MUTED, *PALE, *DARK, "F0E442")}
    neutral = {"#000000", "#FFFFFF", "#F2F2F2", mixed("#555555", 0.5, "#FFFFFF")}
    assert colours_in(SAFE) - neutral <= published
