"""Which rectangles of ground meet."""

from __future__ import annotations

import numpy as np
import pytest

from farmmap.figures.rectangles import bounds_met


@pytest.mark.parametrize("count", [0, 3, 60])
def test_rectangles_that_meet_any_of_others_few_or_many(count: int) -> None:
    random = np.random.default_rng(4)
    corners = random.integers(0, 40, (2, 90, 2)).astype(float)
    bounds, boxes = (np.concatenate([some, some + random.integers(0, 5, (90, 2))], axis=1) for some in corners)
    bounds[5], boxes[1] = np.nan, np.nan
    boxes = boxes[:count]
    expected = [
        any(
            (box[:2] <= one[2:]).all() and (one[:2] <= box[2:]).all() and np.isfinite([*one, *box]).all()
            for box in boxes
        )
        for one in bounds
    ]
    assert bounds_met(bounds, boxes).tolist() == expected
    assert any(expected) == (count > 0)
    assert bounds_met(bounds[:0], boxes).tolist() == []
