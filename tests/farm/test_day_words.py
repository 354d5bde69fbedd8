"""Days as people write them."""

import datetime as dt
import subprocess
import sys

from farmmap.farm.day_words import MONTHS, in_words


def test_days_in_words():
    assert in_words(dt.date(2026, 5, 31)) == "31 May 2026"
    assert [in_words(dt.date(2024, month, 1)) for month in range(1, 13)] == [f"1 {name} 2024" for name in MONTHS]


def test_the_window_can_write_days_before_anything_heavy_is_loaded():
    code = "import farmmap.farm.day_words, sys; assert not {'numpy', 'pandas', 'PySide6'} & set(sys.modules)"
    subprocess.run([sys.executable, "-c", code], check=True)
