"""Make Pipit Downs, the invented farm that farmmap is tried on: ``python sample_farm/make_pipit_downs.py``.

Everything follows from one seed, so a second run makes the same farm.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import shapely
from pipit_forestry import SEED as FORESTRY_SEED
from pipit_forestry import sampled, with_form, with_stubs, written_down
from pipit_ground import CORNER, EPSG, MARGIN_M, RUSH_CHANNEL_M, SEDGE_CHANNEL_M, Ground, ground
from pipit_growth import grown
from pipit_photos import photo_rows, point_rows, write_photos
from pipit_pictures import write_pictures
from pipit_sources import write_sources
from pipit_trees import PLANTINGS, POWER_LINE_CLEAR_M, all_trees
from shapely.geometry import Point

from farmmap.farm.farm import Farm, Settings, shaped
from farmmap.farm.grids import Grid
from farmmap.farm.schema import TABLES
from farmmap.farm.species import known_species
from farmmap.files.farm_file import write_farm

SEED = 20_260_507
FOLDER = Path(__file__).resolve().parent

PURPOSES = {
    "Ridge Pines": "timber, pruned and thinned",
    "North Terrace": "timber, pruned",
    "Lusitanica Corner": "timber, pruned",
    "Stringybark Spur": "timber, posts",
    "Blackwood Gully": "timber, with wattle as nurse",
    "Poplar Face": "holding a slope that slips",
    "Home Woodlot": "firewood and some timber",
    "Walnut Rows": "timber and nuts over pasture",
    "Road Shelterbelt": "shelter",
    "Kānuka Remnant": "native bush, fenced off",
    "Sedge Left Bank": "creek margin",
    "Sedge Right Bank": "creek margin",
    "Tōtara Terrace": "native timber",
    "Lower Flat": "wet flat, to be planted",
}

NOTES = (
    (118, 860, "Look-out", "From here the whole of Ridge Pines is in view; yearly photograph towards the south-east.",
     "2016-05-17"),
    (1050, 392, "Ford", "Track crosses Sedge Creek here; passable except after heavy rain.", "2018-05-22"),
    (288, 640, "Slip of 2012", "Poles above it were doubled the winter after.", "2014-05-07"),
    (488, 742, "Rimu seedlings", "Four found inside the fence, none outside.", "2021-04-28"),
    (1190, 745, "Line company", "Came by to look at the trees below the power line; next in two years.", "2025-09-30"),
)  # fmt: skip

BACKDROPS = (
    ("Ground heights", "elevation.tif", "elevation", "yes", "Invented; a height every 10 m."),
    ("Picture from above", "picture.tif", "picture", "no", "Painted from the invented trees; a dot every 2 m."),
)


def pipit_downs() -> tuple[Farm, Ground, np.random.Generator]:
    """Return the farm, the ground it lies on, and the source of chance as it was left."""
    rng = np.random.default_rng(SEED)
    where = ground()
    trees, measurements = grown(all_trees(where, rng), where, rng)
    measurements = measurements.sort_values(["measured_on", "tree", "stem"], ignore_index=True)
    forestry = np.random.default_rng(FORESTRY_SEED)
    trees["form"] = with_form(trees, forestry)
    measurements["dos_cm"] = with_stubs(measurements, forestry)
    plots = sampled(trees, measurements, where, forestry)
    measurements["tree"] += 1
    settings = Settings("Pipit Downs", EPSG, breast_height_m=1.4, margin_m=MARGIN_M, class_cm=5.0)
    rows = {
        **_ground_rows(where),
        "trees": {**trees, "note": np.where(trees["tag"] == "KR001", "the oldest tree of the remnant?", "")},
        "measurements": dict(measurements),
        "species": _species_rows(trees),
        **written_down(),
        **plots,
        "photo_points": point_rows(),
        "photos": photo_rows(),
    }
    grid = Grid(EPSG)
    tables: dict[str, pd.DataFrame] = {}
    for name, columns in rows.items():
        wanted = {*TABLES[name].column_names, "x", "y", "geometry"}
        count = len(next(iter(columns.values())))
        ids = np.arange(1, count + 1, dtype=np.int64)
        tables[name] = shaped(TABLES[name], {key: columns[key] for key in columns if key in wanted}, ids, grid)
    return Farm(settings, tables), where, rng


def _ground_rows(where: Ground) -> dict[str, dict[str, object]]:
    plantings = {planting.block: planting for planting in PLANTINGS}
    fences, tracks, hazards = where.fences, where.tracks, where.hazards
    return {
        "boundary": {"name": ["Pipit Downs"], "geometry": [where.boundary]},
        "blocks": {
            "name": list(where.blocks),
            "purpose": [PURPOSES[name] for name in where.blocks],
            "planted": [plantings[name].planted for name in where.blocks],
            "stage": [plantings[name].stage for name in where.blocks],
            "geometry": list(where.blocks.values()),
        },
        "creeks": {
            "name": ["Sedge Creek", "Rush Gully"],
            "channel_m": [SEDGE_CHANNEL_M, RUSH_CHANNEL_M],
            "geometry": [where.sedge, where.rush],
        },
        "fences": {
            "name": list(fences),
            "build": ["post and batten" if "Creek" not in name else "two electric wires" for name in fences],
            "stage": ["planned" if "next stage" in name else "existing" for name in fences],
            "geometry": list(fences.values()),
        },
        "tracks": {"name": list(tracks), "width_m": [4.5, 3.5], "geometry": list(tracks.values())},
        "hazards": {
            "name": list(hazards),
            "kind": ["power line", "building", "pipeline", "drain"],
            "clear_m": [POWER_LINE_CLEAR_M, 10.0, 1.0, 1.0],
            "geometry": list(hazards.values()),
        },
        "notes": {
            "heading": [note[2] for note in NOTES],
            "text": [note[3] for note in NOTES],
            "written_on": np.array([note[4] for note in NOTES], "datetime64[s]"),
            "geometry": [Point(CORNER[0] + note[0], CORNER[1] + note[1]) for note in NOTES],
        },
        "backdrops": dict(
            zip(("name", "path", "kind", "shown", "note"), map(list, zip(*BACKDROPS, strict=True)), strict=True)
        ),
    }


def _species_rows(trees: pd.DataFrame) -> dict[str, object]:
    known = {species.code: species for species in known_species()}
    used = [known[code] for code in trees["species"].value_counts().index]
    return {
        "code": [species.code for species in used],
        "name": [species.name for species in used],
        "scientific": [species.scientific for species in used],
        "origin": ["native" if "New Zealand" in species.native_to else "introduced" for species in used],
    }


def main() -> None:
    """Make the farm file, the elevation grid, the pictures and the files to bring in."""
    farm, where, rng = pipit_downs()
    write_farm(farm, FOLDER / "pipit_downs.gpkg", replace=True)
    write_pictures(where, farm, rng, FOLDER)
    write_photos(FOLDER)
    write_sources(farm, FOLDER / "bring")
    hectares = shapely.area(where.boundary) / 10_000
    print(
        f"Pipit Downs: {hectares:.0f} ha, {len(farm.blocks)} blocks, {len(farm.trees)} trees, "
        f"{len(farm.measurements)} measurements"
    )


if __name__ == "__main__":
    sys.exit(main())
