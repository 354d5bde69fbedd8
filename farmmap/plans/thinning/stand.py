"""The trees of one block on a day, as a thinning looks at them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.farm.splice import columns_of, rows_at
from farmmap.figures.blocks import members_of
from farmmap.figures.grounds import grounds
from farmmap.figures.standing import Standing, standing, the_day

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class BlockTrees:
    """Trees that stand in one block on a day. Arrays have shape (n,).

    Attributes
    ----------
    farm : Farm
        The farm.
    block : int
        Id of the block.
    name : str
        Its name.
    there : Standing
        All trees of the farm on the day.
    places : ndarray of int
        Places of the block's trees in ``there``.
    net : shapely geometry
        Net ground of the block.
    net_ha : float
        Its area. [ha]
    scale : float
        Grid metres for a metre of ground.
    planned : bool
        Whether the block is only planned, and so holds no trees.
    """

    farm: Farm
    block: int
    name: str
    there: Standing
    places: NDArray[np.intp]
    net: shapely.Geometry
    net_ha: float
    scale: float
    planned: bool

    def __len__(self) -> int:
        return len(self.places)

    @property
    def on(self) -> dt.date:
        """The day."""
        return self.there.on

    @cached_property
    def ids(self) -> Ints:
        """Ids of the trees."""
        return self.there.ids[self.places]

    @cached_property
    def x(self) -> Floats:
        """Distance east on the farm's grid. [grid m]."""
        return self.there.x[self.places]

    @cached_property
    def y(self) -> Floats:
        """Distance north on the farm's grid. [grid m]."""
        return self.there.y[self.places]

    @cached_property
    def east_m(self) -> Floats:
        """Distance east of the westernmost tree. [ground m]."""
        return (self.x - self.x.min(initial=np.inf)) / self.scale

    @cached_property
    def north_m(self) -> Floats:
        """Distance north of the southernmost tree. [ground m]."""
        return (self.y - self.y.min(initial=np.inf)) / self.scale

    @cached_property
    def dbh_cm(self) -> Floats:
        """Diameter, nan where not measured. [cm]."""
        return self.there.dbh_cm[self.places]

    @cached_property
    def basal_area_m2(self) -> Floats:
        """Basal area, 0 where not measured. [m²]."""
        return np.nan_to_num(self.there.basal_area_m2[self.places])

    @cached_property
    def diameters(self) -> Ints:
        """Diameters that the basal area rests on, 0 where not measured."""
        return self.there.diameters[self.places]

    @cached_property
    def height_m(self) -> Floats:
        """Height, nan where not measured. [m]."""
        return self.there.height_m[self.places]

    @cached_property
    def crown_m(self) -> Floats:
        """Crown diameter, nan where not known. [m]."""
        return self.there.crown_m[self.places]

    @cached_property
    def pruned_m(self) -> Floats:
        """Pruned height, nan where not known. [m]."""
        return self.there.pruned_m[self.places]

    @cached_property
    def species(self) -> Ints:
        """Species, as places in ``there.species_names``."""
        return self.there.species[self.places]

    @cached_property
    def tags(self) -> NDArray[np.object_]:
        """What is written on their tags."""
        return self.column("tag")

    @cached_property
    def marks(self) -> NDArray[np.object_]:
        """Mark of each on the farm as it is: ``crop``, ``take`` or ""."""
        return self.column("mark")

    @cached_property
    def forms(self) -> NDArray[np.object_]:
        """Form of each: ``good``, ``fair``, ``poor`` or ""."""
        return self.column("form")

    @cached_property
    def rows(self) -> Ints:
        """Rows of ``farm.trees``."""
        return self.there.places[self.places]

    def column(self, name: str) -> NDArray[np.object_]:
        """Return a column of text of the farm's trees."""
        return np.asarray(rows_at(columns_of(self.farm.trees)[name], self.rows), object)


def block_trees(farm: Farm, block: int, on: dt.date | None = None) -> BlockTrees:
    """Return the trees of a block on a day.

    Parameters
    ----------
    farm : Farm
        The farm.
    block : int
        Id of the block.
    on : date or None
        The day; None for that of the newest measurement.

    Raises
    ------
    BadInput
        There is no such block.
    """
    if block not in farm.blocks.index:
        raise BadInput(f"block {block} is not on the farm any more; choose another")
    ground, there = grounds(farm), standing(farm, the_day(farm, on))
    place = int(np.flatnonzero(ground.ids == block)[0])
    places = there.at_row(members_of(farm).trees_of(int(block)))
    return BlockTrees(
        farm,
        int(block),
        str(farm.blocks["name"].array[farm.blocks.index.get_loc(block)]),
        there,
        places[places >= 0],
        ground.net[place],
        float(ground.net_ha[place]),
        float(ground.scales[place]),
        not bool(ground.existing[place]),
    )
