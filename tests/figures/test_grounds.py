"""Which blocks claim the same ground."""

from __future__ import annotations

import pytest
from shapely import LineString, box

from farmmap.figures.grounds import grounds, overlaps


@pytest.mark.parametrize(
    ("shapes", "stages", "shared"),
    [
        ([box(0, 0, 10, 10), box(10, 0, 20, 10)], ["existing"] * 2, 0),
        ([box(0, 0, 10, 10), box(5, 0, 15, 10)], ["existing"] * 2, 50),
        ([box(0, 0, 10, 10), box(5, 0, 15, 10)], ["existing", "planned"], 0),
        ([box(0, 0, 10, 10), box(9.95, 0, 20, 10)], ["existing"] * 2, 0),
        ([box(0, 0, 10, 10)], ["existing"], 0),
    ],
)
def test_overlap(farm_with, at, shapes, stages, shared: float) -> None:
    farm = farm_with(blocks={"name": ["b"] * len(shapes), "stage": stages, "geometry": [at(shape) for shape in shapes]})
    assert overlaps(grounds(farm)).claimed_m2 == pytest.approx(shared)


def test_what_is_taken_out_of_both_is_not_claimed_twice(farm_with, at) -> None:
    farm = farm_with(
        blocks={"name": ["a", "b"], "geometry": [at(box(0, 0, 10, 10)), at(box(5, 0, 15, 10))]},
        tracks={"name": ["t"], "width_m": [2.0], "geometry": [at(LineString([(0, 5), (20, 5)]))]},
    )
    found = overlaps(grounds(farm))
    assert found.pairs.tolist() == [[1, 2]]
    assert found.outline_m2 == pytest.approx([50.0], rel=1e-6)
    assert found.net_m2 == pytest.approx([40.0], rel=1e-6)
