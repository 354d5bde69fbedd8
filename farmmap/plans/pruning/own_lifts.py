"""The grower's own lifts, put into the farm or taken out of it as one edit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from farmmap.editing.proposed import Proposed, edit_of
from farmmap.editing.values import typed, typed_values
from farmmap.errors import BadInput
from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm, next_ids, shaped
from farmmap.farm.schema import REGIMES
from farmmap.plans.pruning.lifts import Lift, followed, lift_of, regime_words

COLUMNS = ("kind", "lift", "to_m", "tree_height_m", "dos_cm", "stems_per_ha", "crown_left_percent", "source", "note")
"""What is kept of a lift besides species and block."""

_TOP = REGIMES.column("to_m")
_CALLED = replace(_TOP, name="upper_height")  # what it is called when it cannot be read


def lifts_set(farm: Farm, species: str, block: str, rows: Sequence[Mapping[str, object]]) -> Proposed:
    """Propose the grower's own lifts of a species in a block, in place of those that were there.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    species, block : str
        Code of the species and name of the block; "" for every one without lifts of its own.
    rows : sequence of mapping
        Values by column as typed, `COLUMNS`. None takes the grower's own away, so that those of farmmap hold again.

    Raises
    ------
    BadInput
        They cannot be followed, or nothing changes.
    """
    own = farm.tables["regimes"]
    mine = (own["species"] == species).to_numpy(bool) & (own["block"] == block).to_numpy(bool)
    before = own[mine]
    of = regime_words(species, block)
    if block and not (farm.blocks["name"] == block).any():
        raise BadInput(f"the farm has no block called {block}")
    if not rows:
        if not len(before):
            raise BadInput(f"there are no lifts of your own of {of}")
        return Proposed(edit_of(f"Take away own lifts of {of}", {"regimes": Change(before, own.iloc[:0])}))
    values = [_typed(row) for row in rows]
    lifts = [lift_of(value) for value in values]
    followed(lifts)
    columns = {name: [_held(lift, name) for lift in lifts] for name in COLUMNS}
    columns |= {"species": [species] * len(lifts), "block": [block] * len(lifts)}
    ids = next_ids(own, len(lifts))
    ids[: len(before)] = before.index.to_numpy()[: len(ids)]
    after = shaped(REGIMES, columns, np.sort(ids), farm.grid)
    if len(after) == len(before) and after.equals(before):
        raise BadInput(f"the lifts of {of} are so already")
    return Proposed(edit_of(f"Set lifts of {of}", {"regimes": Change(before, after)}))


def _typed(row: Mapping[str, object]) -> Mapping[str, object]:
    others = {name: value for name, value in row.items() if name != _TOP.name}
    return {"lift": 1, **typed_values(REGIMES, others), _TOP.name: typed(REGIMES, _CALLED, row.get(_TOP.name))}


def _held(lift: Lift, column: str) -> object:
    return lift.number if column == "lift" else getattr(lift, column)
