import pytest

from farmmap.errors import BadInput
from farmmap.scene.paper import PAPERS, TIMES_A4, paper_of


def test_sizes_are_those_of_iso_216():
    assert PAPERS == {"A4": (210, 297), "A3": (297, 420), "A2": (420, 594), "A1": (594, 841), "A0": (841, 1189)}
    assert set(TIMES_A4) == set(PAPERS)


def test_paper_lies_either_way():
    assert (paper_of("a3", landscape=True).width_mm, paper_of("A3", landscape=False).width_mm) == (420, 297)
    assert paper_of("A3", landscape=True).is_landscape
    assert not paper_of("A3", landscape=False).is_landscape


def test_an_unknown_size_is_refused():
    with pytest.raises(BadInput, match="A4, A3"):
        paper_of("B5", landscape=False)
