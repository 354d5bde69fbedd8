"""Turning round which way the water of a creek runs."""

from __future__ import annotations

import numpy as np

from farmmap.editing.fields import fields_changed
from farmmap.editing.proposed import Proposed, edit_of, joined_change
from farmmap.errors import BadInput
from farmmap.farm.farm import Farm

TURNED = {"as drawn": "against", "against": "as drawn"}


def flow_turned(farm: Farm, creek: str) -> Proposed:
    """Propose that all stretches of a creek run the other way.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    creek : str
        Name of the creek.

    Raises
    ------
    BadInput
        There is no such creek.
    """
    rows = farm.creeks[((farm.creeks["name"] == creek) & (farm.creeks["stage"] == "existing")).to_numpy(bool)]
    if not len(rows):
        raise BadInput(f"there is no creek called {creek}; choose one that is on the map")
    changes = [
        fields_changed(
            farm, "creeks", rows.index.to_numpy(np.int64)[(rows["flows"] == now).to_numpy(bool)], {"flows": new}
        )
        for now, new in TURNED.items()
        if (rows["flows"] == now).any()
    ]
    change = joined_change(*(one.edit.changes["creeks"] for one in changes))
    return Proposed(edit_of(f"Turn the flow of {creek} round", {"creeks": change}))
