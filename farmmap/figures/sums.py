"""Sums over all trees that count, kept over an edit: the same to the last bit as if all were added up again.

Numbers are added as whole numbers of a very small unit, as sums of whole
numbers come out the same in any order.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.figures.remembered import Remembered
from farmmap.figures.standing import Standing

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Places = NDArray[np.intp]

COARSE_BITS, FINE_BITS = 16, 40
"""A number is taken apart into whole 2⁻¹⁶ and, of what is left of one, whole 2⁻⁵⁶."""

MOST = 2.0**24
"""No girth, height or basal area is so great; where a mistyped one is, all are added up anew each time."""

AT_ONCE = 1 << 22
"""So many are added up before whole numbers of 64 bits could run over."""


@dataclass(frozen=True)
class Total:
    """Values that are known, added up.

    Attributes
    ----------
    count : int
        How many are known.
    units : int
        Their sum in units of 2⁻⁵⁶.
    """

    count: int
    units: int

    @property
    def amount(self) -> float:
        """The sum."""
        return self.units / (1 << (COARSE_BITS + FINE_BITS))

    @property
    def mean(self) -> float | None:
        """The plain mean, None if nothing is known."""
        return self.units / (self.count << (COARSE_BITS + FINE_BITS)) if self.count else None

    def changed(self, less: Total, more: Total) -> Total:
        """Return the total after some values were taken out and others put in."""
        return Total(self.count - less.count + more.count, self.units - less.units + more.units)


@dataclass(frozen=True, eq=False)
class Sums:
    """Sums over trees.

    Attributes
    ----------
    stems, measured, diameters : int
        Trees, those with a diameter, and the diameters themselves.
    of_species : ndarray of int64, shape (species,)
        Trees of each species.
    basal_area_m2, dbh_cm, height_m : Total or None
        Their values added up; None where one is beyond belief. [m², cm, m]
    """

    stems: int
    measured: int
    diameters: int
    of_species: Ints
    basal_area_m2: Total | None
    dbh_cm: Total | None
    height_m: Total | None


_SUMS: Remembered[Sums] = Remembered(4)


def sums(there: Standing) -> Sums:
    """Return the sums over all trees that count; the last few answers are kept."""
    return _SUMS.get((there,), (), lambda: _added_up(there, None))


def sums_after(was: Standing, old: Places, there: Standing, new: Places) -> None:
    """Keep the sums after an edit, if those before it are at hand.

    Parameters
    ----------
    was, there : Standing
        The trees before and after.
    old, new : ndarray of int
        Places before and after of the trees that were touched.
    """
    found = _SUMS.find((was,))
    if found is None or was is there or was.species_names != there.species_names:
        return
    less, more = _added_up(was, old), _added_up(there, new)
    totals = {}
    for name in ("basal_area_m2", "dbh_cm", "height_m"):
        each: list[Total | None] = [getattr(one, name) for one in (found, less, more)]
        if any(one is None for one in each):
            return
        before, out, put = (one for one in each if one is not None)
        totals[name] = before.changed(out, put)
    now = Sums(
        found.stems - less.stems + more.stems,
        found.measured - less.measured + more.measured,
        found.diameters - less.diameters + more.diameters,
        found.of_species - less.of_species + more.of_species,
        **totals,
    )
    _SUMS.put((there,), (), now)


def _added_up(there: Standing, places: Places | None) -> Sums:
    """Add up some trees, or all."""
    chosen = slice(None) if places is None else places
    species = there.species[chosen]
    return Sums(
        len(species),
        int(np.count_nonzero(there.measured[chosen])),
        int(there.diameters[chosen].sum()),
        np.bincount(species, minlength=len(there.species_names)),
        _total(there.basal_area_m2[chosen]),
        _total(there.dbh_cm[chosen]),
        _total(there.height_m[chosen]),
    )


def _total(values: Floats) -> Total | None:
    known = values[np.isfinite(values)]
    if len(known) and max(known.max(), -known.min()) >= MOST:
        return None
    coarse_units = fine_units = 0
    for begin in range(0, len(known), AT_ONCE):
        scaled = known[begin : begin + AT_ONCE] * 2.0**COARSE_BITS
        whole = np.floor(scaled)
        coarse_units += int(whole.astype(np.int64).sum())
        fine_units += int(np.rint((scaled - whole) * 2.0**FINE_BITS).astype(np.int64).sum())
    return Total(len(known), (coarse_units << FINE_BITS) + fine_units)
