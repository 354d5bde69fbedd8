"""The trees that count on a day, with what was known of each by then."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmmap.farm.dates import middles_of, years_between
from farmmap.farm.farm import Farm
from farmmap.farm.species import CROWN_PER_CM
from farmmap.farm.splice import columns_of, rows_at
from farmmap.figures.crowns import crown_estimate_m
from farmmap.figures.remembered import Remembered
from farmmap.figures.stand import dbh_from_basal_area_cm
from farmmap.figures.tape import Diameters, Tape, tape_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

BASAL_UNIT_M2 = 2.0**-40
"""About a millionth of a square millimetre; a power of 2, so that sums go into m² and back without rounding. [m²]"""

UNKNOWN_SPECIES = "species not given"


@dataclass(frozen=True, eq=False)
class Standing:
    """Trees that count on a day: existing, planted by then and alive then. All arrays have shape (n,).

    Attributes
    ----------
    on : date
        The day.
    breast_height_m : float
        The farm's breast height. [m]
    places : ndarray of int64
        Rows of ``farm.trees``, increasing.
    ids : ndarray of int64
        Ids of the trees.
    x, y : ndarray
        Where they stand on the farm's grid. [m]
    species : ndarray of int64
        Species, as places in ``species_names``.
    species_names : tuple of str
        Codes of the species, those of the farm's list first; "" for trees without one.
    species_labels : tuple of str
        Trade names of the same, or the code where there is none.
    dbh_cm : ndarray
        Latest diameter, for several stems √(Σd²/number); nan where not measured. [cm]
    basal_area_m2 : ndarray
        Of all stems together; nan where not measured. [m²]
    basal_units : ndarray of int64
        The same in units of `BASAL_UNIT_M2`, 0 where not measured: sums of whole numbers are the same in any order.
    diameters : ndarray of int64
        Stem diameters that it rests on; 0 where not measured.
    stems : ndarray of int64
        Stems of the tree.
    height_m, pruned_m : ndarray
        Latest ones; nan where not measured. [m]
    crown_m : ndarray
        Latest crown diameter, else estimated from the stem; nan if neither is known. [m]
    crown_estimated : ndarray of bool
        Whether the crown was estimated.
    measured : ndarray of bool
        Whether there is a diameter by then.
    measured_on : ndarray of datetime64[D]
        Day of the diameter, NaT where there is none.
    age_years, age_measured_years : ndarray
        Years from planting to the day, and to the day of the diameter; nan where not known. [years]
    other_height : ndarray of bool
        Whether the diameter was taken at another height than the farm's.
    grown : ndarray of bool
        Whether diameter, basal area and crown are forecast; of no tree unless ``forecast``.
    forecast : bool
        Whether the day has not come yet, so that sizes are forecast where there is enough to say.
    """

    on: dt.date
    breast_height_m: float
    places: Ints
    ids: Ints
    x: Floats
    y: Floats
    species: Ints
    species_names: tuple[str, ...]
    species_labels: tuple[str, ...]
    dbh_cm: Floats
    basal_area_m2: Floats
    basal_units: Ints
    diameters: Ints
    stems: Ints
    height_m: Floats
    pruned_m: Floats
    crown_m: Floats
    crown_estimated: Bools
    measured: Bools
    measured_on: NDArray[np.datetime64]
    age_years: Floats
    age_measured_years: Floats
    other_height: Bools
    grown: Bools
    forecast: bool = False

    def __len__(self) -> int:
        return len(self.ids)

    @cached_property
    def other_breast_height(self) -> int:
        """Trees whose diameter was taken at another height than the farm's."""
        return int(self.other_height.sum())

    def some(self, places: NDArray[np.intp]) -> Standing:
        """Return some of the trees, in the order of their places in these arrays."""
        held: dict[str, Any] = {field.name: getattr(self, field.name) for field in fields(Standing)}
        arrays: dict[str, Any] = {name: of[places] for name, of in held.items() if isinstance(of, np.ndarray)}
        return replace(self, **arrays)

    @cached_property
    def with_crown(self) -> NDArray[np.intp]:
        """Places (in these arrays) of the trees that have a crown."""
        return np.flatnonzero(self.crown_m > 0)

    @cached_property
    def crowned(self) -> int:
        """How many trees have a crown."""
        return int(np.count_nonzero(self.crown_m > 0))

    @cached_property
    def _place_of_row(self) -> Ints | None:
        """Place in these arrays of each row of ``farm.trees`` up to the last that counts; None if all do."""
        if not len(self.places) or self.places[-1] == len(self.places) - 1:
            return None
        out = np.full(int(self.places[-1]) + 1, -1)
        out[self.places] = np.arange(len(self.places))
        return out

    def at_row(self, rows: NDArray[np.intp]) -> NDArray[np.intp]:
        """Places in these arrays of rows of ``farm.trees``, -1 for trees that do not count. Shape (k,)."""
        known = self._place_of_row
        if known is None:
            return (
                rows if not len(rows) or rows.max() < len(self.places) else np.where(rows < len(self.places), rows, -1)
            )
        return np.where(rows < len(known), known[np.minimum(rows, len(known) - 1)], -1)

    def counted_at(self, rows: NDArray[np.intp]) -> NDArray[np.intp]:
        """`at_row` without the trees that do not count."""
        places = self.at_row(rows)
        return places if places is rows else places[places >= 0]


STANDING: Remembered[Standing] = Remembered(5)
_CROWN_SHAPES: Remembered[dict[str, tuple[float, float]]] = Remembered(2)


def newest_day(farm: Farm, today: dt.date | None = None) -> dt.date:
    """Return the newest day of a measurement or sample plot that is not after today, or today if there is none.

    One reading mistyped into the future must not become the day of all
    figures. If all readings are of the future, the newest of them is taken.

    Parameters
    ----------
    farm : Farm
        The farm.
    today : date or None
        What counts as today; None for the computer's clock.
    """
    tape = tape_of(farm.measurements)
    now = today or _today()
    of_tape, of_plots = tape.newest_by(now), _newest_plot(farm, now)
    if of_tape is None and of_plots is None:
        return tape.newest or now
    return max(day for day in (of_tape, of_plots) if day is not None)


def _newest_plot(farm: Farm, today: dt.date) -> dt.date | None:
    """Newest day, not after today, on which a sample plot was measured."""
    if not len(farm.plots):
        return None
    days = farm.plots["measured_on"].to_numpy().astype("datetime64[D]")
    days = days[days <= np.datetime64(today, "D")]
    return days.max().item() if len(days) else None


def _today() -> dt.date:
    return dt.datetime.now().astimezone().date()


def is_ahead(farm: Farm, day: dt.date, today: dt.date | None = None) -> bool:
    """Whether a day lies after today and after every reading and sample plot, so that sizes on it are forecast.

    Parameters
    ----------
    farm : Farm
        The farm.
    day : date
        The day.
    today : date or None
        What counts as today; None for the computer's clock.
    """
    if day <= (today or _today()):
        return False
    newest = (tape_of(farm.measurements).newest, _newest_plot(farm, dt.date.max))
    return all(one is None or day > one for one in newest)


def later_note(farm: Farm, on: dt.date) -> tuple[str, ...]:
    """Say how many readings are of a later day than the one shown, or what is forecast for a day that has not come.

    Nothing if neither holds.
    """
    if is_ahead(farm, on):
        return forecast_notes(standing(farm, on))
    later = tape_of(farm.measurements).after(on)
    if not later:
        return ()
    many = f"{later} readings are of a later day and are" if later > 1 else "1 reading is of a later day and is"
    return (f"{many} not counted.",)


def basis_note(there: Standing) -> str:
    """Say what the sizes of trees rest on."""
    if there.forecast:
        return f"Forecast for {there.on.isoformat()}, not measured; living trees, each counted once."
    return f"What was measured on or before {there.on.isoformat()}; living trees, each counted once."


def forecast_notes(there: Standing) -> tuple[str, ...]:
    """Say how trees were grown on to a day that has not come; nothing for any other day."""
    if not there.forecast:
        return ()
    grown, still = int(there.grown.sum()), int((there.measured & ~there.grown).sum())
    if not grown:
        return ("Not enough is known of how these trees grow, so all stay as they were last measured.",)
    notes = [
        f"{grown} {_trees(grown)} grown on by what is known of their species and by their own readings.",
        "Crowns widen with the stem as the species' figures say; heights are as last measured.",
    ]
    if still:
        notes.append(f"{still} measured {_trees(still)} left at the last size: not enough to say how they grow.")
    notes.append("Nothing more dies or is felled in a forecast, and planned trees are not counted.")
    return tuple(notes)


def _trees(many: int) -> str:
    return "tree is" if many == 1 else "trees are"


def the_day(farm: Farm, on: dt.date | None) -> dt.date:
    """Return ``on``, or the newest day if it is None."""
    return newest_day(farm) if on is None else on


def standing(farm: Farm, on: dt.date | None = None) -> Standing:
    """Return the trees that count on a day; the last few answers are kept.

    A tree counts if it exists (is not only planned), was planted by the day
    (by the first day that fits where only a year or month is known; trees with
    no date count) and lives on it. A dead or felled tree counts up to the day
    before it died or was felled; without such a day it never counts. Each
    quantity is the latest one that is not missing, on or before the day. A
    diameter of 0 and one of a tree lower than breast height count as not
    measured. One diameter for a tree of several stems stands for each stem;
    where several were taken on the day, each counts once.

    On a day that `is_ahead` the trees that stand as last known are grown on to
    it (`farmmap.figures.standing_ahead`), which at first takes as long as
    finding out how every species grows.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        The day; None for `newest_day`.
    """
    day = the_day(farm, on)
    return STANDING.get(*standing_key(farm, day), lambda: _standing(farm, day))


def _standing(farm: Farm, day: dt.date) -> Standing:
    there = standing_of(farm, day, tape_of(farm.measurements))
    if not is_ahead(farm, day):
        return there
    from farmmap.figures.standing_ahead import grown_on  # noqa: PLC0415 - heavy, and rests on this module

    return grown_on(farm, there)


def standing_key(farm: Farm, day: dt.date) -> tuple[tuple[object, ...], tuple[object, ...]]:
    """Tables that `standing` reads, and what else its answer depends on."""
    return (farm.trees, farm.measurements, farm.species), (day, farm.settings.breast_height_m, is_ahead(farm, day))


def standing_of(farm: Farm, day: dt.date, tape: Tape) -> Standing:
    """Return the trees that count on a day, worked out afresh; as `standing`."""
    trees, on = columns_of(farm.trees), np.datetime64(day, "D")
    here = np.flatnonzero(there_on(farm.trees, on)).astype(np.int64)
    ids = farm.trees.index.to_numpy(np.int64)[here]
    height = _spread(ids, *tape.latest("height_m", on))
    found = tape.diameters(on)
    stems = np.maximum(np.asarray(trees["stems"], np.int64)[here], 1)
    basal, diameters, measured_on, other = _basal(ids, found, stems, height, farm.settings.breast_height_m)
    measured = diameters > 0
    species, names, labels = _species(rows_at(trees["species"], here), farm.species)
    crown, estimated = _crowns(_spread(ids, *tape.latest("crown_m", on)), basal, species, names, farm.species)
    planted = middles_of(rows_at(trees["planted"], here))
    return Standing(
        on=day,
        breast_height_m=farm.settings.breast_height_m,
        places=here,
        ids=ids,
        x=np.asarray(trees["x"], np.float64)[here],
        y=np.asarray(trees["y"], np.float64)[here],
        species=species,
        species_names=names,
        species_labels=labels,
        dbh_cm=dbh_from_basal_area_cm(basal / np.where(measured, diameters, 1)),
        basal_area_m2=basal,
        basal_units=np.rint(np.where(measured, basal, 0.0) / BASAL_UNIT_M2).astype(np.int64),
        diameters=diameters,
        stems=stems,
        height_m=height,
        pruned_m=_spread(ids, *tape.latest("pruned_m", on)),
        crown_m=crown,
        crown_estimated=estimated,
        measured=measured,
        measured_on=measured_on,
        age_years=np.maximum(years_between(planted, on), 0.0),
        age_measured_years=np.maximum(years_between(planted, measured_on), 0.0),
        other_height=other,
        grown=np.zeros(len(here), bool),
    )


def there_on(trees: pd.DataFrame, on: np.datetime64) -> Bools:
    """Which rows of a table of trees count on a day, shape (n,)."""
    columns = columns_of(trees)
    codes, texts = pd.factorize(columns["planted"])
    firsts = np.array([_first_day(str(text)) for text in texts] or [np.datetime64("NaT", "D")], "datetime64[D]")
    planted = np.isnat(firsts) | (firsts <= on)
    ended = np.asarray(columns["status_on"]).astype("datetime64[D]")
    alive = np.asarray(columns["status"] == "alive", bool) | (~np.isnat(ended) & (ended > on))
    return planted[codes] & alive & np.asarray(columns["stage"] == "existing", bool)


def _first_day(text: str) -> np.datetime64:
    return np.datetime64(text or "NaT", "D")


def _spread(ids: Ints, tree: Ints, values: Floats) -> Floats:
    """Values by tree id laid out for ``ids``, nan where there is none."""
    places, found = _found(ids, tree)
    out = np.full(len(ids), np.nan)
    out[found] = values[places[found]]
    return out


def _found(ids: Ints, tree: Ints) -> tuple[NDArray[np.intp], Bools]:
    if not len(tree):
        return np.zeros(len(ids), np.intp), np.zeros(len(ids), bool)
    places = np.minimum(np.searchsorted(tree, ids), len(tree) - 1)
    return places, tree[places] == ids


def _basal(
    ids: Ints, found: Diameters, stems: Ints, height: Floats, breast_m: float
) -> tuple[Floats, Ints, NDArray[np.datetime64], Bools]:
    """Basal area, number of diameters, their day, and which trees were taken at another height."""
    places, has = _found(ids, found.tree)
    own = np.full(len(ids), np.nan)
    own[has] = found.breast_height_m[places[has]]
    at = np.where(np.isnan(own), breast_m, own)
    has &= ~(height < at)
    rows = places[has]
    count = found.count[rows]
    basal = np.full(len(ids), np.nan)
    diameters = np.zeros(len(ids), np.int64)
    day = np.full(len(ids), np.datetime64("NaT", "D"))
    basal[has] = found.basal_area_m2[rows] * np.where(count == 1, stems[has], 1)
    diameters[has] = np.where(count == 1, stems[has], count)
    day[has] = found.day[rows]
    return basal, diameters, day, has & (at != breast_m)


def _species(codes: Any, known: pd.DataFrame) -> tuple[Ints, tuple[str, ...], tuple[str, ...]]:
    places, texts = pd.factorize(codes)
    found = {str(text) for text in texts}
    listed = dict(zip(known["code"], known["name"], strict=True))
    names = (*listed, *sorted(found - set(listed) - {""}), *([""] if "" in found and "" not in listed else []))
    order = {name: place for place, name in enumerate(names)}
    at = np.array([order[str(text)] for text in texts], np.int64)
    labels = tuple(listed.get(name) or name or UNKNOWN_SPECIES for name in names)
    return (at[places] if len(at) else np.zeros(len(codes), np.int64)), names, labels


def _crown_shapes(known: pd.DataFrame) -> dict[str, tuple[float, float]]:
    """Crown of the thinnest stem and what each cm adds, by code; of a code listed twice the first counts."""
    base, slope = known["crown_base_m"].fillna(0.0), known["crown_per_cm"].fillna(CROWN_PER_CM)
    return dict(reversed(list(zip(known["code"], zip(base, slope, strict=True), strict=True))))


def _crowns(
    crown: Floats, basal: Floats, species: Ints, names: tuple[str, ...], known: pd.DataFrame
) -> tuple[Floats, Bools]:
    guess = _crowns_of_stems(dbh_from_basal_area_cm(basal), species, names, known)
    estimated = np.isnan(crown) & np.isfinite(guess)
    return np.where(estimated, guess, crown), estimated


def _crowns_of_stems(dbh_cm: Floats, species: Ints, names: tuple[str, ...], known: pd.DataFrame) -> Floats:
    listed = _CROWN_SHAPES.get((known,), (), lambda: _crown_shapes(known))
    if not len(names):
        return np.full(len(dbh_cm), np.nan)
    base, slope = np.array([listed.get(name, (0.0, CROWN_PER_CM)) for name in names]).reshape(-1, 2).T
    return crown_estimate_m(dbh_cm, base[species], slope[species])


def crowns_of_stems_m(there: Standing, known: pd.DataFrame, basal_area_m2: Floats | None = None) -> Floats:
    """Return the crown diameters that go with the stems of trees by what is known of their species.

    Parameters
    ----------
    there : Standing
        The trees.
    known : DataFrame
        The farm's list of species.
    basal_area_m2 : ndarray, shape (n,), optional
        Basal area of each tree's stems; as in ``there`` if not given. [m²]

    Returns
    -------
    ndarray, shape (n,)
        nan where the basal area is. [m]
    """
    basal = there.basal_area_m2 if basal_area_m2 is None else basal_area_m2
    return _crowns_of_stems(dbh_from_basal_area_cm(basal), there.species, there.species_names, known)
