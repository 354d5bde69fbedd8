"""What can be printed of a farm, each with the words for it and what composes it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, replace

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.figures.sampling.sampled import block_of_each_plot
from farmmap.plans.planting.keeping.kept import KEPT, kept_plans
from farmmap.sheets.chosen import WHOLE_FARM, SheetChoices
from farmmap.sheets.lettering import not_written
from farmmap.sheets.measuring_sheet import compose_measuring
from farmmap.sheets.page import Document, Sheet, SheetOptions
from farmmap.sheets.photo_sheet import compose_photo_points
from farmmap.sheets.plan_sheet import compose_kept
from farmmap.sheets.plot_sheet import compose_plots
from farmmap.sheets.pruning_sheet import compose_pruning
from farmmap.sheets.series import compose_series
from farmmap.sheets.sheet import compose
from farmmap.sheets.survival_sheet import compose_survival

Which = tuple[tuple[str, str], ...]
"""What there is to choose from: what it is known by, and what it is called."""


@dataclass(frozen=True)
class Composed:
    """Pages, and what to know about them.

    Attributes
    ----------
    document : Document
        The pages.
    messages : tuple of str
        What the person who asked for them should know.
    scale : int or None
        The N of the scale 1:N of its first map; None if it has none.
    """

    document: Document
    messages: tuple[str, ...]
    scale: int | None


@dataclass(frozen=True)
class Subject:
    """Something that can be printed.

    Attributes
    ----------
    words : str
        What it is called in a list.
    compose : callable
        Composes it, given farm, day, which one of several, and options.
    which : callable or None
        Gives what there is to choose from; None where there is only one.
    none : str
        What to do where there is nothing to choose from.
    arranged : bool
        Whether elements of its pages may be put elsewhere by hand.
    two_maps : bool
        Whether it can be shown as it stands and as it is planned, side by side.
    """

    words: str
    compose: Callable[[Farm, dt.date | None, str, SheetOptions], Composed]
    which: Callable[[Farm], Which] | None = None
    none: str = ""
    arranged: bool = True
    two_maps: bool = False


def compose_chosen(farm: Farm, on: dt.date | None, choices: SheetChoices) -> Composed:
    """Return the pages that are chosen.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        The day; None for that of the newest measurement.
    choices : SheetChoices
        What is printed, and how.

    Raises
    ------
    BadInput
        There is no such thing to print, or the pages cannot be as asked.
    """
    subject = SUBJECTS.get(choices.what)
    if subject is None:
        raise BadInput(f"this farmmap does not know how to print “{choices.what}”; choose what is printed")
    if subject.which is not None:
        there = dict(subject.which(farm))
        if not there:
            raise BadInput(subject.none)
        if choices.of not in there:
            gone = f"“{choices.of}” is not there any more; " if choices.of and not choices.of.isdigit() else ""
            raise BadInput(f"{gone}choose which one is printed")
    done = subject.compose(farm, on, choices.of, choices.options)
    return replace(done, messages=tuple(dict.fromkeys((*done.messages, *not_written(done.document)))))


def title_of(farm: Farm, choices: SheetChoices) -> str:
    """Return the title that pages have without one of the grower's own."""
    subject = SUBJECTS.get(choices.what)
    if subject is None or subject.which is None:
        return farm.settings.name
    return dict(subject.which(farm)).get(choices.of, farm.settings.name)


def _plans(farm: Farm) -> Which:
    return tuple((plan.name, plan.name) for plan in kept_plans(farm))


def _carried_out(farm: Farm) -> Which:
    return tuple((plan.name, plan.name) for plan in kept_plans(farm) if plan.state != KEPT)


def _blocks(farm: Farm) -> Which:
    drawn = farm.blocks[~(farm.blocks.geometry.isna() | farm.blocks.geometry.is_empty)]
    return tuple((str(row), str(name)) for row, name in zip(drawn.index, drawn["name"], strict=True))


def _with_plots(farm: Farm) -> Which:
    there = {str(row) for row in block_of_each_plot(farm).tolist()}
    return tuple(one for one in _blocks(farm) if one[0] in there)


def _of_sheet(sheet: Sheet) -> Composed:
    return Composed(sheet.document(), sheet.messages, sheet.plan.scale)


NO_BLOCKS = "no blocks are drawn on this farm yet; draw one first"

SUBJECTS: dict[str, Subject] = {
    WHOLE_FARM: Subject(
        "The whole farm", lambda farm, on, _, options: _of_sheet(compose(farm, on, options)), two_maps=True
    ),
    "plan": Subject(
        "A planting plan",
        lambda farm, on, of, options: _of_sheet(compose_kept(farm, on, of, options)),
        _plans,
        "no planting plan is kept on this farm yet; plan one with the Plant tool, and keep it",
        two_maps=True,
    ),
    "blocks": Subject(
        "A page for each block",
        lambda farm, on, _, options: Composed(compose_series(farm, on, options, "blocks"), (), None),
        arranged=False,
    ),
    "grid": Subject(
        "Sheets of one scale over the farm",
        lambda farm, on, _, options: Composed(compose_series(farm, on, options, "grid"), (), options.scale),
        arranged=False,
    ),
    "photos": Subject("Photo points", lambda farm, on, _, options: _of_sheet(compose_photo_points(farm, on, options))),
    "measuring": Subject(
        "Field sheet: measuring",
        lambda farm, _on, of, options: _of_sheet(compose_measuring(farm, int(of), options)),
        _blocks,
        NO_BLOCKS,
    ),
    "pruning": Subject(
        "Field sheet: pruning",
        lambda farm, on, of, options: _of_sheet(compose_pruning(farm, int(of), on, None, options)),
        _blocks,
        NO_BLOCKS,
    ),
    "plots": Subject(
        "Field sheet: sample plots",
        lambda farm, on, of, options: _of_sheet(compose_plots(farm, int(of), on, options)),
        _with_plots,
        "no sample plots are laid out yet; lay them out in the panel Plots",
    ),
    "survival": Subject(
        "Field sheet: survival count",
        lambda farm, _on, of, options: _of_sheet(compose_survival(farm, of, options)),
        _carried_out,
        "no planting plan is accepted or planted yet; what was not planted cannot be counted",
    ),
}
"""What can be printed, by what it is known by in kept sheets, in the order in which it is offered."""
