import numpy as np
import pytest
from shapely import LineString

from farmmap.farm.farm import new_farm, shaped
from farmmap.farm.schema import TABLES
from farmmap.files.checks import farm_findings
from farmmap.files.flow import meeting_head_on
from tests.place import EAST, NORTH


def creeks(*lines, names=None, flows=None):
    farm = new_farm("A", 2193)
    shapes = [LineString([(EAST + x, NORTH + y) for x, y in line]) for line in lines]
    values = {"name": names or ["C"] * len(lines), "flows": flows or ["as drawn"] * len(lines), "geometry": shapes}
    return farm.with_tables(creeks=shaped(TABLES["creeks"], values, np.arange(1, len(lines) + 1), farm.grid))


WEST, BACK, EASTERN = [(0, 0), (100, 0)], [(200, 0), (100, 0)], [(200, 0), (300, 0)]


def test_stretches_drawn_against_each_other_are_found():
    assert meeting_head_on(creeks(WEST, BACK, EASTERN).creeks) == [("C", 1, 2), ("C", 2, 3)]
    assert any("run against each other" in str(finding) for finding in farm_findings(creeks(WEST, BACK, EASTERN)))


@pytest.mark.parametrize(
    "farm",
    [
        creeks(WEST, BACK, EASTERN, flows=["as drawn", "against", "as drawn"]),
        creeks(WEST, BACK, names=["C", "D"]),
        creeks(WEST, BACK, [(100, 0), (100, -50)]),
        creeks(WEST, [(100.0, 0), (200, 0)]),
        creeks([(0, 0), (50, 50), (100, 0), (0, 0)]),
        creeks(),
    ],
)
def test_stretches_that_run_on_or_fork_are_right(farm):
    assert meeting_head_on(farm.creeks) == []
