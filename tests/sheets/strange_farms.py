"""Farms that are hard to print, for tests of pages."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import shapely

from farmmap.farm.farm import Farm, new_farm, shaped
from farmmap.farm.schema import TABLES
from tests.scene.made_farm import EAST, NORTH, made_farm

LONG = ("The paddock beyond the old woolshed that the river took in the great flood " * 3)[:200]
UNBROKEN = "Whenua" * 33 + "ab"
SCRIPTS = {
    "maori": ("Ōtū Ānewa", ["Te Wāhi o ngā Tōtara", "Ōhaupō kōwhai", "Pōhutukawa", "Ngā Rākau"]),
    "greek": ("Αγρόκτημα Ελιά", ["Επάνω ελαιώνας", "Κάτω αμπέλι", "Όχθη", "Δάσος"]),
    "cyrillic": ("Хутор Берёза", ["Верхняя роща", "Йод и ёлки", "Сосны", "Ґанок"]),
    "arabic": ("مزرعة الوادي", ["حقل الشمال", "بستان الزيتون", "النخيل", "الوادي الكبير"]),
    "chinese": ("竹林农场", ["北坡竹林", "南山茶园", "松林", "河边"]),
    "emoji": ("Pipit 🌲 Downs", ["🌲 Hill", "👨‍🌾 Terrace ☀️", "Flat ✔", "🐑🐑"]),
}


def _named(title: str, names: list[str], creek: str = "") -> Farm:
    """Return an invented farm whose things have such names."""
    farm = made_farm(len(names), 120)
    blocks = farm.blocks.assign(name=names)
    creeks = farm.creeks.assign(name=[creek or names[0], names[-1]])
    fences = farm.fences.assign(name=names[:2])
    notes = farm.notes.assign(heading=names[:1])
    hazards = farm.hazards.assign(name=names[:3])
    species = farm.species.assign(name=[f"{names[row % len(names)]} {row}" for row in range(len(farm.species))])
    settings = replace(farm.settings, name=title)
    return replace(
        farm.with_tables(blocks=blocks, creeks=creeks, species=species, fences=fences, notes=notes, hazards=hazards),
        settings=settings,
    )


def _strip() -> Farm:
    """Return a farm of 10 km by 50 m, in blocks of 1 km."""
    farm = new_farm("Long Acre", "EPSG:2193")
    boxes = [shapely.box(EAST + 1000 * k, NORTH, EAST + 1000 * k + 1000, NORTH + 50) for k in range(10)]
    creek = shapely.LineString([(EAST, NORTH + 25), (EAST + 10_000, NORTH + 30)])

    def table(kind: str, /, **values: object) -> object:
        return shaped(TABLES[kind], values, np.arange(1, len(next(iter(values.values()))) + 1), farm.grid)

    return farm.with_tables(
        boundary=table("boundary", geometry=[shapely.union_all(boxes)], name=["Long Acre"]),
        blocks=table("blocks", geometry=boxes, name=[f"Mile {number}" for number in range(1, 11)]),
        creeks=table("creeks", geometry=[creek], name=["Sedge Creek"], channel_m=[1.5]),
    )


def _huge() -> Farm:
    farm = new_farm("One block", "EPSG:2193")
    block = shapely.box(EAST, NORTH, EAST + 9000, NORTH + 7000)
    values = {"geometry": [block], "name": ["The one block"]}
    return farm.with_tables(blocks=shaped(TABLES["blocks"], values, np.array([1]), farm.grid))


STRANGE: dict[str, Callable[[], Farm]] = {
    "no trees": lambda: made_farm(6, 0),
    "no creek": lambda: made_farm(6, 60, creek=False),
    "no blocks": lambda: made_farm(0, 60),
    "one huge block": _huge,
    "10 km by 50 m": _strip,
    "200 letters": lambda: _named(LONG, [f"{LONG[:-2]} {number}" for number in range(6)]),
    "200 letters, no space": lambda: _named(UNBROKEN, [f"{UNBROKEN[:-1]}{number}" for number in range(6)]),
    **{name: (lambda title=title, names=names: _named(title, names)) for name, (title, names) in SCRIPTS.items()},
}
"""Makes each of them."""
