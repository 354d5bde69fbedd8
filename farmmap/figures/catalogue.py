"""Every figure that farmmap shows: its name, symbol, unit, formula, source, and how it was worked out.

The window, the command line and the printed sheet all explain a figure from here.
"""

from __future__ import annotations

import difflib
import math
import string
from collections.abc import Mapping

from farmmap.errors import BadInput
from farmmap.farm.species import plain
from farmmap.figures.catalogue_blocks import BLOCK_FIGURES
from farmmap.figures.catalogue_ground import GROUND_FIGURES
from farmmap.figures.catalogue_growth import GROWTH_FIGURES
from farmmap.figures.catalogue_harvest import HARVEST_FIGURES
from farmmap.figures.catalogue_margins import MARGIN_FIGURES
from farmmap.figures.catalogue_plots import PLOT_FIGURES
from farmmap.figures.catalogue_pruning import PRUNING_FIGURES
from farmmap.figures.catalogue_room import ROOM_FIGURES
from farmmap.figures.catalogue_thinning import THINNING_FIGURES
from farmmap.figures.catalogue_trees import TREE_FIGURES
from farmmap.figures.figure import Figure

__all__ = ["CATALOGUE", "Figure", "explain", "find_figure", "working"]

CATALOGUE: dict[str, Figure] = {
    figure.name: figure
    for figure in (
        *BLOCK_FIGURES,
        *MARGIN_FIGURES,
        *TREE_FIGURES,
        *GROUND_FIGURES,
        *THINNING_FIGURES,
        *GROWTH_FIGURES,
        *ROOM_FIGURES,
        *HARVEST_FIGURES,
        *PRUNING_FIGURES,
        *PLOT_FIGURES,
    )
}
"""Every figure by the key it has in tables, CSV and JSON."""


def find_figure(name: str) -> Figure:
    """Return the figure of that key, title, symbol or loosely typed words.

    Raises
    ------
    BadInput
        None is called that; the message names those that come closest.
    """
    if name in CATALOGUE:
        return CATALOGUE[name]
    for figure in CATALOGUE.values():
        if name.strip() and name.strip() == figure.symbol:
            return figure
    wanted = plain(name)
    called = _called()
    if wanted in called:
        return CATALOGUE[called[wanted]]
    words = set(wanted.split())
    holding = [key for key, figure in CATALOGUE.items() if words and words <= set(_all_words(figure))]
    if len(holding) == 1:
        return CATALOGUE[holding[0]]
    near = [called[text] for text in difflib.get_close_matches(wanted, called, n=6, cutoff=0.5)]
    offered = list(dict.fromkeys([*holding[:6], *near]))[:6]
    hint = f"; did you mean {', '.join(offered)}?" if offered else f"; there are {', '.join(CATALOGUE)}"
    raise BadInput(f"there is no figure called '{name}'{hint}")


def explain(name: str) -> str:
    """Return the symbol, unit, formula, meaning and source of a figure as plain text.

    Parameters
    ----------
    name : str
        Its key (``qmd_cm``), its title, its symbol, or words from its title.

    Raises
    ------
    BadInput
        No figure is called that.
    """
    figure = find_figure(name)
    lines = [f"{figure.title} ({figure.name})"]
    lines += [f"{label}: {text}" for label, text in _told(figure) if text]
    return "\n".join(lines)


def working(name: str, numbers: Mapping[str, object]) -> str:
    """Return how a figure was worked out, with the numbers put in.

    Parameters
    ----------
    name : str
        Key of the figure.
    numbers : mapping
        The row of a table that it stands in.

    Returns
    -------
    str
        Formula, numbers and result, each on a line of its own.
    """
    figure = find_figure(name)
    lines = [f"{figure.symbol} = {figure.formula}" if figure.symbol else figure.formula]
    low, high = (numbers.get(f"{figure.name}_{end}") for end in ("low", "high"))
    if numbers.get("plots") is not None and low is not None and high is not None:
        ends = f"{_shown(figure, low)} to {_shown(figure, high)}"
        lines.append(f"estimated from {numbers['plots']} sample plots; 95 % interval {ends}")
    elif figure.numbers and numbers.get(figure.name) is not None:
        lines.append(_Plain().vformat(figure.numbers, (), _Known(numbers)))
    lines.append(f"{figure.title}: {_shown(figure, numbers.get(figure.name))}")
    return "\n".join(line for line in lines if line)


def _told(figure: Figure) -> list[tuple[str, str]]:
    formula = f"{figure.symbol} = {figure.formula}" if figure.symbol and figure.formula else figure.formula
    return [
        ("Symbol", figure.symbol),
        ("Unit", figure.unit),
        ("Formula", formula),
        ("Meaning", figure.words),
        ("Source", figure.source),
    ]


def _called() -> dict[str, str]:
    called: dict[str, str] = {}
    for key, figure in CATALOGUE.items():
        for text in (key, figure.title, key.rsplit("_", 1)[0], figure.heading):
            called.setdefault(plain(text), key)
    called.pop("", None)
    return called


def _all_words(figure: Figure) -> list[str]:
    return plain(f"{figure.name} {figure.title}").split()


def _shown(figure: Figure, value: object) -> str:
    if value is None or value == "" or (isinstance(value, float) and math.isnan(value)):
        return "not known"
    if isinstance(value, list):
        return f"{len(value)} rows"
    if isinstance(value, int | float) and figure.places is not None:
        return f"{value:.{figure.places}f} {figure.unit}".strip()
    return str(value)


class _Known(dict[str, object]):
    """Numbers of a row; those that are missing read ``not known``."""

    def __missing__(self, key: str) -> object:
        return None


class _Plain(string.Formatter):
    """Writes numbers rounded, with what is not known said so."""

    def format_field(self, value: object, format_spec: str) -> str:
        if value is None or (isinstance(value, float) and math.isnan(value)):
            return "not known"
        if isinstance(value, float) and not format_spec:
            return f"{value:.4f}".rstrip("0").rstrip(".")
        return format(value, format_spec)
