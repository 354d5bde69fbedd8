import datetime as dt

import numpy as np
import pandas as pd
import pytest

from farmmap.errors import BadInput
from farmmap.farm.dates import is_when, middle_of, middles_of, parse_day, years_between


def test_days():
    assert parse_day(" 2026-05-31 ") == dt.date(2026, 5, 31)
    assert parse_day("31 May 2026") == parse_day("31 may 2026") == dt.date(2026, 5, 31)
    assert parse_day("1 Dec 2026") == dt.date(2026, 12, 1)
    for text in ("", "2026", "31/5/2026", "2026-02-30", "31 Feb 2026", "1 Ma 2026", "1 Mayor 2026", "0 May 2026"):
        with pytest.raises(BadInput, match="2026-05-31"):
            parse_day(text)


@pytest.mark.parametrize(
    ("text", "good"),
    [
        ("", True),
        ("2004", True),
        ("2004-07", True),
        ("2004-07-15", True),
        ("04", False),
        ("2004-13", False),
        ("2004-02-30", False),
        ("soon", False),
    ],
)
def test_years_known_in_part(text, good):
    assert is_when(text) is good


def test_the_middle_of_what_is_known():
    assert middle_of("2004") == np.datetime64("2004-07-01")
    assert middle_of("2004-02") == np.datetime64("2004-02-15")
    assert middle_of("2004-02-29") == np.datetime64("2004-02-29")
    assert np.isnat(middle_of(""))
    found = middles_of(pd.Series(["2004", "", "2004"], dtype="str"))
    assert found.dtype == "datetime64[D]"
    assert np.isnat(found[1])
    assert found[2] == np.datetime64("2004-07-01")
    assert len(middles_of(pd.Series([], dtype="str"))) == 0


def test_years_are_days_over_365_25():
    years = years_between(np.array(["2000-01-01", "NaT"], "datetime64[D]"), np.datetime64("2020-01-01"))
    assert years[0] == 7305 / 365.25 == 20.0
    assert np.isnan(years[1])
