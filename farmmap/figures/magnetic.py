"""Which way a compass needle points: magnetic declination by the World Magnetic Model."""

from __future__ import annotations

import datetime as dt
from calendar import isleap
from dataclasses import dataclass
from functools import lru_cache
from math import isfinite
from typing import TYPE_CHECKING

from farmmap.errors import BadInput
from farmmap.farm.day_words import in_words

if TYPE_CHECKING:
    from pygeomag import GeoMag

MODELS: dict[int, tuple[str, str]] = {
    2010: ("World Magnetic Model 2010", "wmm/WMM_2010.COF"),
    2015: ("World Magnetic Model 2015, second version", "wmm/WMM_2015v2.COF"),
    2020: ("World Magnetic Model 2020", "wmm/WMM_2020.COF"),
    2025: ("World Magnetic Model 2025", "wmm/WMM_2025.COF"),
}
"""Name and coefficients of each model by the year from which it holds, for five years."""

MODEL_YEARS = 5

WEAK_NT = 6000.0
"""Level part of the field under which a compass is not to be relied on; the models' own limit of caution. [nT]"""


@dataclass(frozen=True)
class Declination:
    """How a compass needle lies to true north.

    Attributes
    ----------
    degrees : float
        From true north to magnetic north, positive where the needle points east of true north. [degrees]
    yearly_change_deg : float
        What is added to it in a year. [degrees]
    model : str
        The model that it is by.
    until : date
        Last day on which that model holds.
    """

    degrees: float
    yearly_change_deg: float
    model: str
    until: dt.date


@lru_cache(maxsize=64)
def declination(latitude_deg: float, longitude_deg: float, height_m: float, on: dt.date) -> Declination:
    """Return how a compass needle lies to true north at a place on a day.

    Parameters
    ----------
    latitude_deg, longitude_deg : float
        On WGS 84 or any datum within some kilometres of it, north and east positive. [degrees]
    height_m : float
        Above the sea. [m]
    on : date
        The day.

    Raises
    ------
    BadInput
        No model holds on that day, there is no such place, or a compass is of no use there.

    Notes
    -----
    World Magnetic Models by the US National Centers for Environmental Information and the British Geological Survey:
    Chulliat, A. et al. (2025) The US/UK World Magnetic Model for 2025-2030, and the reports of earlier models, with
    the coefficients that the library pygeomag brings. The yearly change is the difference from half a year before to
    half a year after by the same model. The field of the ground itself, of iron and of power lines is not in it: the
    declination is known to about half a degree (the same report).
    """
    if not abs(latitude_deg) <= 90.0 or not isfinite(longitude_deg):
        raise BadInput("where the map lies on the earth is not known, nor how a compass needle lies there")
    first = on.year - on.year % MODEL_YEARS
    if first not in MODELS:
        first_year, last_year = min(MODELS), max(MODELS) + MODEL_YEARS - 1
        newer = "; a newer version of farmmap may know more" if on.year > last_year else ""
        raise BadInput(
            f"how a compass needle lies is known from {first_year} to {last_year}, and not for {in_words(on)}{newer}"
        )
    name, coefficients = MODELS[first]
    field = _model(coefficients)

    def degrees(year: float) -> float:
        """Return the declination at a time in years."""
        found = field.calculate(latitude_deg, longitude_deg, height_m / 1000.0, year, allow_date_outside_lifespan=True)
        if found.h < WEAK_NT:
            raise BadInput(
                f"so near to a magnetic pole (latitude {latitude_deg:.1f}°, longitude {longitude_deg:.1f}°) a compass "
                "needle is not to be relied on"
            )
        return float(found.d)

    year = on.year + (on.timetuple().tm_yday - 1) / (366 if isleap(on.year) else 365)
    change = (degrees(year + 0.5) - degrees(year - 0.5) + 180.0) % 360.0 - 180.0
    return Declination(degrees(year), change, name, dt.date(first + MODEL_YEARS - 1, 12, 31))


def _model(coefficients: str) -> GeoMag:
    """Return a model of its own for each question, as the library's keep what they reckon with."""
    from pygeomag import GeoMag  # noqa: PLC0415 - only maps that show a compass need it

    return GeoMag(coefficients_file=coefficients)
