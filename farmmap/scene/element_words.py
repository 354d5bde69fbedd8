"""What the elements of a page are called, in lists and in what is said of them."""

from __future__ import annotations

MAP = "map"

WORDS = {
    MAP: "Map",
    "map 2": "Second map",
    "title": "Title",
    "key": "Key",
    "also": "Also on the map",
    "overview": "Overview map",
    "detail": "Detail",
    "blocks": "Table of blocks",
    "margins": "Table of creek margins",
    "zones": "Table of zones",
    "order": "Plants to order",
    "fence": "Table of fences",
    "costs": "Who pays",
    "cost lines": "Costs, line by line",
    "cover": "Expected cover",
    "calendar": "Calendar of works",
    "species": "Table of species",
    "photo points": "Table of photo points",
    "thinning": "Table of the thinning",
    "lifts": "What there is to prune",
    "scale bar": "Scale bar",
    "north": "North arrow",
    "notes": "How it was worked out",
    "note": "Your own note",
    "credits": "Credits",
    "version": "Version",
    "photos": "Photographs",
    "caution": "Cautions",
}
"""What elements are called; one that is not among them goes by its own name."""


def words_of(name: str) -> str:
    """Return what an element is called in lists."""
    return WORDS.get(name) or f"{name[:1].upper()}{name[1:]}"
