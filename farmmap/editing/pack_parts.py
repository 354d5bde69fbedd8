"""Which parts of a pack are printed, in which order, and with which words of the grower's own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from farmmap.editing.proposed import Proposed, edit_of, rows_of
from farmmap.editing.values import typed
from farmmap.errors import BadInput
from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm, next_ids, shaped
from farmmap.farm.schema import PACK_PARTS
from farmmap.farm.species import plain


@dataclass(frozen=True)
class KeptPart:
    """A part of a pack as the farm keeps it.

    Attributes
    ----------
    part : str
        Its key.
    place : int
        Where it stands in the pack, from 1.
    taken : bool
        Whether it is printed.
    text : str
        The grower's own words; "" for farmmap's.
    """

    part: str
    place: int
    taken: bool
    text: str


def kept_packs(farm: Farm) -> tuple[str, ...]:
    """Return the names of the packs that a farm keeps."""
    return tuple(dict.fromkeys(farm.tables["pack_parts"]["pack"].tolist()))


def kept_parts(farm: Farm, pack: str) -> tuple[KeptPart, ...]:
    """Return what a farm keeps of a pack, in the order of its parts; case and accents of its name do not matter."""
    rows = _rows(farm, pack)
    found = (
        KeptPart(str(part), int(place), taken == "yes", str(text))
        for part, place, taken, text in zip(rows["part"], rows["place"], rows["taken"], rows["text"], strict=True)
    )
    return tuple(sorted(found, key=lambda one: (not one.taken, one.place)))


def parts_kept(farm: Farm, pack: str, parts: Sequence[str], taken: Sequence[str], texts: Mapping[str, str]) -> Proposed:
    """Propose to keep the parts of a pack.

    Parameters
    ----------
    farm : Farm
        The farm.
    pack : str
        Name of the pack; what is kept of it gives way.
    parts : sequence of str
        Keys of all parts, in the order in which they are printed.
    taken : sequence of str
        Those that are printed.
    texts : mapping of str to str
        The grower's own words by part; "" or none for farmmap's.

    Raises
    ------
    BadInput
        The pack has no name, a text is too long or cannot be kept, or all is kept already, just so.
    """
    name = str(typed(PACK_PARTS, PACK_PARTS.column("pack"), pack.strip()))
    if not name:
        raise BadInput("a pack needs a name; give it one")
    before = _rows(farm, pack)
    count = len(parts)
    column = PACK_PARTS.column("text")
    values = {
        "pack": [name] * count,
        "part": list(parts),
        "place": np.arange(1, count + 1),
        "taken": ["yes" if part in taken else "no" for part in parts],
        "text": [str(typed(PACK_PARTS, column, texts.get(part, ""))) for part in parts],
    }
    there = before.index.to_numpy(np.int64)[:count]
    new = next_ids(farm.tables["pack_parts"], max(count - len(there), 0))
    after = shaped(PACK_PARTS, values, np.concatenate([there, new]), farm.grid)
    if before.equals(after):
        raise BadInput(f"the pack {name} is kept already, just as it is")
    return Proposed(edit_of(f"Keep pack {name}", {"pack_parts": Change(before, after)}))


def _rows(farm: Farm, pack: str) -> pd.DataFrame:
    table = farm.tables["pack_parts"]
    same = [plain(str(name)) == plain(pack) for name in table["pack"]]
    return rows_of(farm, "pack_parts", table.index.to_numpy(np.int64)[np.array(same, bool)])
