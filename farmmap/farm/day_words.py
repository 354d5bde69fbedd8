"""Days as people write them; in a module of its own, as the window needs it before anything heavy is loaded."""

from __future__ import annotations

import datetime as dt

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
"""In English whatever the computer's language is, as all other words are."""


def in_words(day: dt.date) -> str:
    """Return a day as people write it: ``31 May 2026``."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"
