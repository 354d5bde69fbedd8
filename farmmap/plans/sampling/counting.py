"""Counts of sample plots put into the farm: typed in tree by tree, from a CSV, or from trees that are mapped."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import shapely

from farmmap.editing.proposed import Proposed, added_change, edit_of, removed_change, rows_of
from farmmap.editing.values import day_done, typed, typed_values
from farmmap.errors import BadInput
from farmmap.farm.edits import Change, Edit
from farmmap.farm.farm import Farm, next_ids, shaped
from farmmap.farm.schema import PLOT_TREES, PLOTS
from farmmap.farm.species import SpeciesFinder, plain
from farmmap.figures.blocks import block_of_each_tree
from farmmap.figures.grounds import grounds
from farmmap.figures.sampling.counts import how_many, plot_counts
from farmmap.figures.sampling.sampled import block_of_each_plot
from farmmap.figures.sampling.tally import tally
from farmmap.figures.standing import standing
from farmmap.files.sources.reading import read_source

FIELDS = ("species", "dbh_cm", "height_m", "trees", "counts", "note")
MOST_COUNTS = 8.0
"""What the farm keeps as a tree's weight at most."""

MOST_SAID = 5
"""Faults of a file that are listed; the others are counted."""

NONE_WORDS = frozenset(("none", "no tree", "no trees", "nil", "0", "-", "–"))
"""What is written as species where no tree stood in a plot."""

HALVES = {"½": "0.5", "1/2": "0.5"}
"""How a tree on the line is written."""

_NOTHING: dict[str, Any] = {"trees": 1, "counts": 1.0, "dbh_cm": float("nan"), "height_m": float("nan"), "note": ""}
_HEADS = {"plot": ("plot", "plot_no", "plot_number", "point", "sample_plot"), "block": ("block", "block_name", "stand")}


def tree_counted(farm: Farm, plot: int, values: Mapping[str, object], on: dt.date | None = None) -> Proposed:
    """Propose a tree that was counted in a plot; the plot counts as measured from then on.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    plot : int
        Id of the plot.
    values : mapping of str to object
        Its `FIELDS`, typed or as text from a form.
    on : date, optional
        Day of the measurement, for a plot that has none yet.

    Raises
    ------
    BadInput
        A value cannot be kept, the day has not come, or the plot is not there.
    """
    before = rows_of(farm, "plots", [plot])
    finder = SpeciesFinder(farm.species)
    fields = typed_values(PLOT_TREES, {name: value for name, value in values.items() if name != "species"})
    species = finder.code_of(str(typed(PLOT_TREES, PLOT_TREES.column("species"), values.get("species", ""))))
    name = str(before["name"].iloc[0])
    made = _edit(farm, f"Count a tree in plot {name}", [fields | {"plot": plot, "species": species}], finder, on)
    return Proposed(made, tuple(_new_species(finder)))


def plots_measured(farm: Farm, plots: Sequence[int], on: dt.date) -> Proposed:
    """Propose the day on which plots were measured, such as those in which no tree stood.

    Raises
    ------
    BadInput
        The day has not come yet, or a plot is not there.
    """
    before = rows_of(farm, "plots", list(plots))
    after = before.copy()
    after["measured_on"] = pd.array([day_done(PLOTS, "measured_on", on)] * len(after), dtype="datetime64[s]")
    names = ", ".join(map(str, before["name"].iloc[:3])) + (" and others" if len(before) > 3 else "")
    return Proposed(edit_of(f"Mark plot {names} as measured", {"plots": Change(before, after)}))


def counts_taken_away(farm: Farm, rows: Sequence[int]) -> Proposed:
    """Propose to take lines of counted trees away."""
    many = "a counted tree" if len(rows) == 1 else f"{len(rows)} counted trees"
    return Proposed(edit_of(f"Take away {many}", {"plot_trees": removed_change(farm, "plot_trees", list(rows))}))


def plots_taken_away(farm: Farm, plots: Sequence[int]) -> Proposed:
    """Propose to take plots away, with what was counted in them."""
    trees = farm.plot_trees.index[farm.plot_trees["plot"].isin(list(plots)).to_numpy(bool)]
    changes = {"plots": removed_change(farm, "plots", list(plots))}
    notes: tuple[str, ...] = ()
    if len(trees):
        changes = {"plot_trees": removed_change(farm, "plot_trees", trees)} | changes
        lines = "1 line of counted trees goes" if len(trees) == 1 else f"{len(trees)} lines of counted trees go"
        notes = (f"{lines} with {'it' if len(plots) == 1 else 'them'}",)
    many = how_many(len(plots), "sample plot")
    return Proposed(edit_of(f"Take away {many}", changes), notes)


def counts_from_file(farm: Farm, path: Path | str, on: dt.date | None = None, block: int | None = None) -> Proposed:
    """Propose the counts of a CSV with a row for each tree, or for several alike.

    Columns are ``plot``, ``species``, ``dbh_cm``, ``height_m``, ``trees``,
    ``counts``, ``note``, and ``block`` where plots of several blocks have the same
    names; only ``plot`` is needed. A row with a plot and nothing else, or with
    "none" as its species, says that no tree stood in it.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    path : Path or str
        The file.
    on : date, optional
        Day of the measurement, for plots that have none yet.
    block : int, optional
        Id of the block whose plots are meant, where the file does not say.

    Raises
    ------
    BadInput
        The file cannot be read, a row cannot be kept, or the day has not come. Nothing comes in then; the message
        lists what is wrong.
    """
    source = read_source(path)
    if source.kind != "CSV":
        raise BadInput(f"{source.path.name} is {source.kind}; counts come as CSV")
    columns = _columns([str(head) for head in source.rows.columns], source.path.name)
    texts = source.rows.rename(columns={theirs: ours for ours, theirs in columns.items()})[list(columns)]
    finder, named = SpeciesFinder(farm.species), _plots_by_name(farm)
    own = None if block is None else str(farm.blocks["name"].loc[block])
    faults = [f"row {bad.row_number}: {bad.reason}" for bad in source.bad]
    lines: list[dict[str, Any]] = []
    visited: list[int] = []
    for number, row in zip(source.row_numbers.tolist(), texts.to_dict("records"), strict=True):
        try:
            plot, fields = _line(row, named, own, finder)
        except BadInput as error:
            faults.append(f"row {number}: {error}")
            continue
        visited.append(plot)
        if fields is not None:
            lines.append(fields | {"plot": plot})
    if faults:
        more = f"; and {len(faults) - MOST_SAID} more" if len(faults) > MOST_SAID else ""
        raise BadInput(f"{source.path.name}: nothing came in. {'; '.join(faults[:MOST_SAID])}{more}")
    already = sorted(set(visited) & set(farm.plot_trees["plot"].tolist()))
    if already:
        names = ", ".join(str(farm.plots["name"].loc[one]) for one in already[:MOST_SAID])
        raise BadInput(
            f"{source.path.name}: nothing came in, as trees were counted before in plots {names}; take those away first"
        )
    many = how_many(len(set(visited)))
    name = f"Bring in counts of {many}"
    edit = _edit(farm, name, lines, finder, on, visited)
    trees = sum(int(line.get("trees", 1)) for line in lines)
    left = [head for head in map(str, source.rows.columns) if head.strip() and head not in columns.values()]
    unread = (f"columns that are not known were left out: {', '.join(left)}",) if left else ()
    return Proposed(edit, (f"{how_many(trees, 'tree')} in {many} came in", *unread, *_new_species(finder)))


def counts_from_map(farm: Farm, plots: Sequence[int], on: dt.date) -> Proposed:
    """Propose what plots would count of the trees that are mapped, each with its weight at the edge.

    The weight is that of `farmmap.figures.sampling.tally.exact_weights`. Distances are
    taken as level, so the counts are those of a plot laid out level.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    plots : sequence of int
        Ids of the plots; what was counted in them before makes way.
    on : date
        The day whose trees are counted.

    Raises
    ------
    BadInput
        A plot has no size, lies in no block, or no tree of its block is mapped.
    """
    counts, of, ground = plot_counts(farm), block_of_each_plot(farm), grounds(farm)
    there, members = standing(farm, on), block_of_each_tree(farm)
    lines: list[dict[str, Any]] = []
    notes: list[str] = []
    capped = 0
    for plot in plots:
        place = int(farm.plots.index.get_loc(plot))
        name = counts.names[place]
        at = int(np.searchsorted(ground.ids, of[place]))
        if of[place] < 0:
            raise BadInput(f"plot {name} lies in no block, so its edge is not known")
        if not counts.sized[place]:
            raise BadInput(f"plot {name} has no radius, size or factor; give it one")
        mine = np.flatnonzero(members[there.places] == of[place])
        mine = mine[shapely.intersects_xy(ground.net[at], there.x[mine], there.y[mine])]
        if not len(mine):
            raise BadInput(
                f"no tree is mapped in {farm.blocks['name'].loc[of[place]]}, so nothing can be counted from it"
            )
        dbh = there.dbh_cm[mine]
        found = tally(
            counts.middles[place],
            np.column_stack([there.x[mine], there.y[mine]]),
            dbh,
            counts.shapes[place],
            region=ground.net[at],
            edge="exact",
            scale=float(ground.scales[at]),
        )
        weight = np.minimum(found.weight, MOST_COUNTS)
        capped += int((found.weight > MOST_COUNTS).sum())
        lines += [
            {"plot": plot, "species": there.species_names[kind], "dbh_cm": wide, "height_m": high, "counts": times}
            for kind, wide, high, times in zip(
                there.species[mine[found.tree]].tolist(),
                dbh[found.tree].tolist(),
                there.height_m[mine[found.tree]].tolist(),
                weight.tolist(),
                strict=True,
            )
        ]
    if capped:
        notes.append(
            f"{capped} trees in sharp corners would count more than {MOST_COUNTS:g} times and are kept at that"
        )
    old = farm.plot_trees.index[farm.plot_trees["plot"].isin(list(plots)).to_numpy(bool)]
    many = how_many(len(plots))
    edit = _edit(farm, f"Count the mapped trees in {many}", lines, SpeciesFinder(farm.species), on, plots, old)
    return Proposed(edit, tuple(notes))


def _edit(
    farm: Farm,
    name: str,
    lines: Sequence[Mapping[str, Any]],
    finder: SpeciesFinder,
    on: dt.date | None,
    visited: Sequence[int] | None = None,
    gone: pd.Index | None = None,
) -> Edit:
    """Return the edit that puts lines in and gives plots without a day their day."""
    changes: dict[str, Change] = {}
    added = finder.added(farm.grid)
    if len(added):
        changes["species"] = added_change(farm, "species", added)
    seen = sorted({int(line["plot"]) for line in lines} | set(visited or ()))
    before = rows_of(farm, "plots", seen)
    undated = before["measured_on"].isna().to_numpy(bool)
    if undated.any():
        after = before[undated].copy()
        day = day_done(PLOTS, "measured_on", on or dt.datetime.now().astimezone().date())
        after["measured_on"] = pd.array([day] * len(after), dtype="datetime64[s]")
        changes["plots"] = Change(before[undated], after)
    if lines or (gone is not None and len(gone)):
        columns = {key: [line[key] for line in lines] for key in lines[0]} if lines else {}
        ids = next_ids(farm.plot_trees, len(lines))
        rows = shaped(PLOT_TREES, columns, ids, farm.grid)
        taken = farm.plot_trees.iloc[:0] if gone is None else farm.plot_trees.loc[gone]
        changes["plot_trees"] = Change(taken, rows)
    return edit_of(name, changes)


def _columns(heads: Sequence[str], name: str) -> dict[str, str]:
    """Return their heading for each of our columns."""
    known = {ours: (ours, *PLOT_TREES.column(ours).also) for ours in FIELDS} | _HEADS
    found: dict[str, str] = {}
    for head in heads:
        for ours, words in known.items():
            if ours not in found and plain(head) in {plain(word) for word in words}:
                found[ours] = head
                break
    if "plot" not in found:
        raise BadInput(f"{name} has no column plot; it has {', '.join(heads)}")
    if "dbh_cm" not in found:
        close = [head for head in heads if plain(head) in {"dbh", "diameter", "d", "dbh cm", "diameter cm"}]
        if close:
            found["dbh_cm"] = close[0]
    return found


def _plots_by_name(farm: Farm) -> dict[str, list[tuple[int, str]]]:
    """Id and name of the block of each plot, by the plot's own name."""
    of = block_of_each_plot(farm)
    blocks = dict(zip(farm.blocks.index.tolist(), map(str, farm.blocks["name"]), strict=True))
    out: dict[str, list[tuple[int, str]]] = {}
    for plot, name, block in zip(farm.plots.index.tolist(), farm.plots["name"], of.tolist(), strict=True):
        out.setdefault(plain(str(name)), []).append((int(plot), blocks.get(block, "")))
    return out


def _line(
    row: Mapping[str, Any], named: Mapping[str, list[tuple[int, str]]], own: str | None, finder: SpeciesFinder
) -> tuple[int, dict[str, Any] | None]:
    """Return the plot and the fields of one row; None for the fields where no tree stood."""
    texts = {key: "" if value is None else str(value).strip() for key, value in row.items()}
    block = texts.get("block", "") or own
    called = named.get(plain(texts["plot"]), [])
    here = [plot for plot, of in called if block is None or plain(of) == plain(block)]
    if not texts["plot"]:
        raise BadInput("no plot is named")
    if not here:
        where = f" in {block}" if block else ""
        raise BadInput(f"there is no plot {texts['plot']}{where}")
    if len(here) > 1:
        if len({of for _, of in called}) == 1 or block:
            raise BadInput(f"{len(here)} plots are called {texts['plot']}; give each its own name")
        raise BadInput(f"several blocks have a plot {texts['plot']}; name the block in a column block")
    given = {key: texts[key] for key in FIELDS if texts.get(key)}
    if given.get("species", "").casefold() in NONE_WORDS and "dbh_cm" not in given:
        return here[0], None
    if given.get("trees") == "0" or not {"species", "dbh_cm", "height_m", "trees"} & set(given):
        return here[0], None
    given["counts"] = HALVES.get(given.get("counts", "1"), given.get("counts", "1"))
    fields = _NOTHING | typed_values(PLOT_TREES, {key: value for key, value in given.items() if key != "species"})
    return here[0], fields | {"species": finder.code_of(given.get("species", ""))}


def _new_species(finder: SpeciesFinder) -> list[str]:
    return [f"species {name} was not known and was added to the farm's list" for name in finder.newly_named]
