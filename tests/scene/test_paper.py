import itertools
import math

import pytest

from farmmap.errors import BadInput
from farmmap.scene.page_items import Type
from farmmap.scene.paper import PAPERS, TIMES_A4, TOO_SMALL, paper_of
from farmmap.scene.styles import LEAST_TEXT_MM, theme

SIZES = [PAPERS[f"A{number}"] for number in range(8)]


def test_sizes_are_those_of_iso_216():
    assert {name: PAPERS[name] for name in ("A4", "A3", "A2", "A1", "A0")} == {
        "A4": (210, 297), "A3": (297, 420), "A2": (420, 594), "A1": (594, 841), "A0": (841, 1189),
    }  # fmt: skip
    assert set(TIMES_A4) == set(PAPERS) == {f"A{number}" for number in range(8)}


def test_each_size_is_the_next_larger_one_halved_and_rounded_down():
    """The halving rule of ISO 216: the long side is halved, millimetres are whole."""
    for (wide, high), smaller in itertools.pairwise(SIZES):
        assert smaller == (high // 2, wide)


@pytest.mark.parametrize("number", range(8))
def test_areas_and_proportions_follow_the_rule_of_the_series(number):
    """A0 is a square metre, each size half of that before, and all have the proportions 1 to √2."""
    wide, high = SIZES[number]
    exact = 1000 * 2 ** (-number / 2 - 1 / 4)
    assert wide == pytest.approx(exact, abs=1.0)
    assert high == pytest.approx(exact * math.sqrt(2), abs=1.0)
    assert wide * high == pytest.approx(1e6 / 2**number, rel=0.02)


@pytest.mark.parametrize("name", PAPERS)
def test_no_text_of_a_page_is_smaller_than_can_be_read(name):
    type_ = Type(theme("paper"), TIMES_A4[name], lambda text, style: 0.0)
    assert min(type_.small.size_mm, type_.body.size_mm) >= LEAST_TEXT_MM


def test_paper_lies_either_way():
    assert (paper_of("a3", landscape=True).width_mm, paper_of("A3", landscape=False).width_mm) == (420, 297)
    assert (paper_of("a7", landscape=True).width_mm, paper_of("A7", landscape=False).width_mm) == (105, 74)
    assert paper_of("A3", landscape=True).is_landscape
    assert not paper_of("A3", landscape=False).is_landscape


def test_an_unknown_size_is_refused():
    with pytest.raises(BadInput, match="A4, A3"):
        paper_of("B5", landscape=False)


@pytest.mark.parametrize("name", TOO_SMALL)
def test_a_size_too_small_for_a_map_is_refused_with_the_smallest_that_does(name):
    with pytest.raises(BadInput, match=f"{name} is too small for a map that can be read; take A7 or larger"):
        paper_of(name.lower(), landscape=True)
