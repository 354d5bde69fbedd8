import pytest

from farmmap.errors import BadInput
from farmmap.scene.styles import (
    LEAST_FILLED_MM,
    LEAST_LINE_MM,
    LEAST_OPEN_MM,
    LEAST_TEXT_MM,
    POINT_MM,
    THEMES,
    contrast,
    ink_on,
    mixed,
    theme,
    with_text,
)
from farmmap.scene.symbols import OKABE_ITO, UNKNOWN_COLOUR, YELLOW

LOOKS = list(THEMES.values())


def test_contrast_is_that_of_the_guidelines():
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.01)  # the grey that just fails level AA
    assert contrast("#767676", "#FFFFFF") == pytest.approx(4.54, abs=0.01)  # and the one that just passes


@pytest.mark.parametrize("look", LOOKS, ids=lambda look: look.name)
def test_all_text_reads_on_every_ground_it_may_lie_on(look):
    colours = {look.ink, look.faint, *(style.colour for style in look.texts.values())}
    worst = min((contrast(colour, ground), colour, ground) for colour in colours for ground in look.grounds())
    assert worst[0] >= 4.5, worst


@pytest.mark.parametrize("look", LOOKS, ids=lambda look: look.name)
def test_all_lines_stand_out_from_every_ground(look):
    colours = {style.colour for name, style in look.lines.items() if not name.startswith("contours")}
    colours |= {style.line for style in look.areas.values() if style.line}
    colours |= {look.picked, look.unmeasured, look.gone}
    worst = min((contrast(colour, ground), colour, ground) for colour in colours for ground in look.grounds())
    assert worst[0] >= 4.5, worst


@pytest.mark.parametrize("look", LOOKS, ids=lambda look: look.name)
def test_contours_are_fainter_than_the_map_over_them_but_can_be_seen(look):
    grounds = look.outside, look.inside
    assert all(1.8 <= contrast(look.lines["contours"].colour, ground) <= 3.5 for ground in grounds)
    assert all(contrast(look.lines["index contours"].colour, ground) >= 4.5 for ground in grounds)


@pytest.mark.parametrize("look", LOOKS, ids=lambda look: look.name)
def test_text_reads_on_its_own_halo(look):
    for name, style in look.texts.items():
        for ground in look.grounds():
            assert contrast(style.colour, mixed(style.halo, 0.92, ground)) >= 4.5, name


@pytest.mark.parametrize("fill", [*OKABE_ITO, UNKNOWN_COLOUR])
def test_letters_read_on_every_symbol(fill):
    assert contrast(ink_on(fill), fill) >= 4.5


@pytest.mark.parametrize("look", LOOKS, ids=lambda look: look.name)
def test_symbols_are_set_off_from_the_ground_by_their_ring(look):
    assert all(contrast(look.ink, ground) >= 4.5 for ground in look.grounds())


@pytest.mark.parametrize("look", LOOKS, ids=lambda look: look.name)
def test_yellow_is_never_a_line_or_text(look):
    assert YELLOW not in {style.colour for style in (*look.lines.values(), *look.texts.values())}
    assert YELLOW not in {style.line for style in (*look.areas.values(), *look.marks.values())}


@pytest.mark.parametrize("look", LOOKS, ids=lambda look: look.name)
def test_nothing_is_smaller_than_print_can_show(look):
    assert all(style.size_mm >= LEAST_TEXT_MM for style in look.texts.values())
    assert all(style.width_mm >= LEAST_LINE_MM for style in look.lines.values())
    assert all(style.line_mm >= LEAST_LINE_MM for style in look.areas.values() if style.line)
    assert all(style.size_mm >= (LEAST_FILLED_MM if style.fill else LEAST_OPEN_MM) for style in look.marks.values())
    assert pytest.approx(2.1167, abs=1e-4) == LEAST_TEXT_MM  # 6 points of 1/72 inch


def test_a_double_line_keeps_ground_between_its_edges():
    for look in LOOKS:
        for style in look.lines.values():
            if style.inside and style.width_mm > 0.7:
                assert style.width_mm - 2 * style.edge_mm >= 0.2


def test_planned_things_are_dashed_and_open():
    look = theme("paper")
    for name, style in look.lines.items():
        if name.endswith(" planned"):
            assert style.dash, name
            assert not style.inside, name
    assert look.areas["blocks planned"].dash
    assert not look.areas["blocks planned"].fill


def test_text_grows_with_its_halo():
    small, large = theme("paper"), with_text(theme("paper"), 2.0)
    assert large.texts["blocks"].size_mm == pytest.approx(2 * small.texts["blocks"].size_mm)
    assert large.texts["blocks"].halo_mm == pytest.approx(2 * small.texts["blocks"].halo_mm)
    assert large.lines == small.lines


def test_an_unknown_theme_is_named():
    with pytest.raises(BadInput, match="'sepia'"):
        theme("sepia")


def test_a_point_is_a_seventy_second_of_an_inch():
    assert pytest.approx(25.4) == POINT_MM * 72
