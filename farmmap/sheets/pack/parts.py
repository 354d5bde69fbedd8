"""The parts that a pack is made of, in the order in which they are printed."""

from __future__ import annotations

from difflib import get_close_matches

from farmmap.errors import BadInput
from farmmap.farm.species import plain
from farmmap.sheets.pack import after_parts, land_parts, permissions, photo_part, works_parts
from farmmap.sheets.pack.part import Part, no_plan

PARTS: dict[str, Part] = {
    "summary": Part(
        "Summary", "who asks, for what, and the main figures", land_parts.summary_intro, land_parts.summary
    ),
    "location": Part(
        "Location", "map of the whole farm with the site framed, grid reference", land_parts.location_intro,
        land_parts.location,
    ),
    "existing": Part(
        "Existing state", "map and figures of what stands", land_parts.existing_intro, land_parts.existing
    ),
    "works": Part(
        "Planned works", "map of the planting, its zones, what to check", works_parts.works_intro, works_parts.works,
        no_plan,
    ),
    "plants": Part(
        "Plant schedule", "plants by zone, species and stock, and the order", works_parts.plants_intro,
        works_parts.plants, no_plan,
    ),
    "fence": Part(
        "Fence and water", "fences, gates, floodgates, troughs, materials", works_parts.fence_intro,
        works_parts.fence, no_plan,
    ),
    "costs": Part(
        "Costs", "budget line by line with grant, own cash and in kind", works_parts.costs_intro, works_parts.costs,
        no_plan,
    ),
    "cover": Part(
        "Riparian cover", "ground under crowns before planting and after 5, 10 and 20 years", works_parts.cover_intro,
        works_parts.cover, works_parts.cover_lacks,
    ),
    "stocking": Part(
        "Block stocking", "stems, basal area and cover of every block", land_parts.stocking_intro,
        land_parts.stocking, land_parts.stocking_lacks,
    ),
    "photos": Part(
        "Photo points", "where photographs are taken from, and those there are", photo_part.photos_intro,
        photo_part.photos,
    ),
    "maintenance": Part(
        "Maintenance and monitoring", "work by month and year, survival counts, lines to fill in",
        after_parts.maintenance_intro, after_parts.maintenance,
    ),
    "permissions": Part(
        "Permissions and cautions to check", "list to tick, from what is on the map", permissions.permissions_intro,
        permissions.permissions,
    ),
    "workings": Part(
        "How each figure was worked out", "formula and source of every figure", after_parts.workings_intro,
        after_parts.workings,
    ),
}  # fmt: skip
"""Parts by key."""


def part_key(word: str) -> str:
    """Return the key of a part that is called by its key or title, whatever the case.

    Raises
    ------
    BadInput
        There is no such part; the message names the nearest and lists all.
    """
    wanted = plain(word)
    called = {plain(text): key for key, part in PARTS.items() for text in (part.title, key)}
    if wanted in called:
        return called[wanted]
    near = get_close_matches(wanted, called, 1, 0.5)
    meant = f" Is {called[near[0]]} meant?" if near else ""
    raise BadInput(f"there is no part called '{word.strip()}' in the pack; there are: {', '.join(PARTS)}.{meant}")
