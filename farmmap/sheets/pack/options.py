"""What may be chosen for a pack."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path


@dataclass(frozen=True)
class PackOptions:
    """What may be chosen for a pack.

    Attributes
    ----------
    plans : tuple of str
        Names of planting plans that the farm keeps; without one the pack is about what stands.
    parts : tuple of str or None
        Keys of the parts, in the order in which they are printed; None for those that the farm keeps for this pack,
        else all.
    paper : str
        Of every page, upright.
    look : str
        ``colour``, ``safe`` or ``grey``, as for map sheets.
    folder : Path or None
        Folder of the farm file, from which backdrops and photographs are looked for; None to do without.
    printed_on : date or None
        Day of printing; None for today.
    title : str
        "" for the name of the farm and of the plans.
    texts : mapping of str to str
        The grower's own words by part; they go before those that the farm keeps. They stand in place of farmmap's
        introduction, or behind it where they begin with ``+``.
    pack : str
        Name of the pack.
    applicant, scheme, reference, property_id, author : str
        For the summary; lines to fill in where they are "".
    version : str
        Of this pack, for the foot of its pages.
    """

    plans: tuple[str, ...] = ()
    parts: tuple[str, ...] | None = None
    paper: str = "A4"
    look: str = "colour"
    folder: Path | None = None
    printed_on: dt.date | None = None
    title: str = ""
    texts: Mapping[str, str] = field(default_factory=dict[str, str])
    pack: str = "Application"
    applicant: str = ""
    scheme: str = ""
    reference: str = ""
    property_id: str = ""
    author: str = ""
    version: str = ""
