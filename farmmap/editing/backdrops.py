"""Adding, changing and taking out what lies under the map."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from farmmap.editing.guard import guarded
from farmmap.editing.proposed import Proposed, added_change, edit_of, removed_change, rows_of
from farmmap.editing.values import typed_values
from farmmap.errors import BadInput
from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm, next_ids, shaped
from farmmap.farm.schema import BACKDROPS
from farmmap.files.raster_backdrops import path_of, path_text
from farmmap.files.rasters import ELEVATION, look_at


def backdrop_added(
    farm: Farm, path: Path, folder: Path | None, *, kind: str = "", named_grid: str = "", name: str = ""
) -> Proposed:
    """Propose a new backdrop.

    Parameters
    ----------
    farm : Farm
        The farm.
    path : Path
        Its file.
    folder : Path or None
        Folder of the farm file; a path inside it is kept from there.
    kind : str
        ``picture`` or ``elevation``; "" for what the file looks like.
    named_grid : str
        Grid of a file that names none; "" for the farm's own.
    name : str
        What it is called; "" for the name of its file.

    Raises
    ------
    BadInput
        The file cannot be used; the message says why and what to do.
    """
    file = look_at(path, farm.grid, named_grid, kind)
    kind = file.kind
    if kind == ELEVATION and not file.one_band:
        raise BadInput(
            f"{path.name} holds a picture in several colours, not heights of the ground; add it as a picture"
        )
    there = {path_of(text, folder) for text in farm.tables["backdrops"]["path"]}
    if path_of(path_text(path, folder), folder) in there:
        raise BadInput(f"{path.name} is among the backdrops already")
    called = name.strip() or path.stem.replace("_", " ")
    row = shaped(
        BACKDROPS,
        {"name": [called], "path": [path_text(path, folder)], "kind": [kind], "grid": [named_grid.strip()]},
        next_ids(farm.tables["backdrops"], 1),
        farm.grid,
    )
    edit = edit_of(f"Add backdrop {called}", {"backdrops": added_change(farm, "backdrops", row)})
    return Proposed(edit, (*file.said, *_where(farm, file.bounds, path)))


@guarded
def backdrop_changed(farm: Farm, backdrop: int, values: Mapping[str, object]) -> Proposed:
    """Propose other values for one backdrop.

    Parameters
    ----------
    farm : Farm
        The farm.
    backdrop : int
        Its row.
    values : mapping of str to object
        New values by column.

    Raises
    ------
    BadInput
        It is not there any more, a value does not fit, or nothing would change.
    """
    before = rows_of(farm, "backdrops", backdrop)
    fields = typed_values(BACKDROPS, values)
    after = before.assign(**{name: [value] for name, value in fields.items()}).astype(before.dtypes)
    called = str(before["name"].iloc[0])
    done = "Change backdrop"
    if set(fields) == {"shown"}:
        done = "Hide backdrop" if fields["shown"] == "no" else "Show backdrop"
    if after.equals(before):
        raise BadInput(f"{done} {called}: nothing changes")
    return Proposed(edit_of(f"{done} {called}", {"backdrops": Change(before, after)}))


@guarded
def backdrop_removed(farm: Farm, backdrop: int) -> Proposed:
    """Propose to take a backdrop out; its file stays where it is."""
    called = rows_of(farm, "backdrops", backdrop)["name"].iloc[0]
    return Proposed(
        edit_of(f"Take away backdrop {called}", {"backdrops": removed_change(farm, "backdrops", [backdrop])})
    )


def _where(farm: Farm, bounds: tuple[float, float, float, float], path: Path) -> tuple[str, ...]:
    """Say so if a file lies away from the farm."""
    own = farm.bounds()
    if own is None or (bounds[0] < own[2] and own[0] < bounds[2] and bounds[1] < own[3] and own[1] < bounds[3]):
        return ()
    return (f"{path.name} does not reach the farm, so nothing of it will be seen there; is it the right one?",)
