"""Words that the tables of growth share."""

from __future__ import annotations

from farmmap.farm.farm import Farm


def species_labels(farm: Farm) -> dict[str, str]:
    """Return trade names by code, of a code listed twice the first; the code where there is no name."""
    listed = list(zip(farm.species["code"], farm.species["name"], strict=True))
    return {str(code): str(name or code) for code, name in reversed(listed)}
