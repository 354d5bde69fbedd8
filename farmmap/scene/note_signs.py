"""Which notes on the map are gates and troughs of a plan, as those have signs of their own."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

SIGNS = ("gate", "trough")
"""Marks of the theme that stand for such notes; their headings begin with the same word."""


def note_signs(notes: pd.DataFrame) -> NDArray[np.object_]:
    """Return the mark of each note, shape (len(notes),): ``notes``, or one of `SIGNS` for what came with a plan."""
    marks = np.full(len(notes), "notes", object)
    of_plan = (notes["plan"] != "").to_numpy(bool)
    for sign in SIGNS:
        marks[of_plan & notes["heading"].str.lower().str.startswith(sign).to_numpy(bool)] = sign
    return marks
