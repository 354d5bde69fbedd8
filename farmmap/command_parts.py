"""What the commands share: days, files and blocks as they are typed, and tables as they are printed."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Callable
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from farmmap.errors import BadInput, FarmmapError

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm
    from farmmap.figures.result import FigureTable
    from farmmap.sheets.page import SheetOptions

FARM = click.Path(path_type=Path, dir_okay=False)
"""A farm file, or another file, as an argument or option."""

THE_FARM = "the farm itself"
"""What a file to be written may not be."""

PAPERS = ("A4", "A3", "A2", "A1", "A0", "A5", "A6", "A7")

SHEET_ENDINGS = (".pdf", ".png")
"""Endings of files that are pages."""


class Day(click.ParamType[dt.date]):
    """A day written YYYY-MM-DD."""

    name = "YYYY-MM-DD"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> dt.date:
        """Return the day, or say what is wrong with it."""
        from farmmap.farm.dates import parse_day

        if isinstance(value, dt.date):
            return value
        try:
            return parse_day(value)
        except FarmmapError as error:
            self.fail(str(error), param, ctx)


farm_argument = click.argument("farm_file", metavar="FARM.gpkg", type=FARM)
on_option = click.option(
    "--on", "day", type=Day(), help="Day that the figures hold for; the newest measurement if not given."
)
format_option = click.option(
    "--format", "form", type=click.Choice(["text", "csv", "json"]), default="text", show_default=True
)
_paper_option = click.option(
    "--paper",
    type=click.Choice(PAPERS, case_sensitive=False),
    default="A4",
    show_default=True,
    help="Paper of a printed sheet.",
)
_compass_option = click.option("--compass", is_flag=True, help="Say on the map how a compass needle lies to it.")


def page_options(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options of a printed sheet, ``--paper`` and ``--compass``."""
    return _paper_option(_compass_option(command))


def page_asked(out: Path | None, folder: Path, paper: str, *, compass: bool) -> SheetOptions | None:
    """Return what a printed sheet is to be like, None if none is printed.

    Parameters
    ----------
    out : Path or None
        The file to write, if any.
    folder : Path
        Folder of the farm file.
    paper, compass
        What was given by `page_options`.

    Raises
    ------
    click.UsageError
        ``--paper`` or ``--compass`` would do nothing.
    FarmmapError
        Nothing can be printed, as Qt cannot be loaded.
    """
    if out is not None and out.suffix.lower() in SHEET_ENDINGS:
        from farmmap.screen import need_qt

        need_qt()
        from farmmap.sheets.page import SheetOptions

        return SheetOptions(paper=paper, folder=folder, declination=compass)
    for name in ("paper", "compass"):
        if click.get_current_context().get_parameter_source(name) is ParameterSource.COMMANDLINE:
            which = "no file is written" if out is None else f"{out} is no page"
            raise click.UsageError(f"--{name} is for a printed sheet, and {which}; add --out FILE.pdf, or leave it out")
    return None


def say_table(table: FigureTable, form: str) -> None:
    """Print a table of figures as text, CSV or JSON."""
    say({"text": table.as_text, "csv": table.as_csv, "json": table.as_json}[form]())


def say(text: str) -> None:
    """Print text that may hold the line ends of CSV."""
    if os.linesep == "\r\n":
        text = text.replace("\r\n", "\n")  # printing puts the carriage returns of the CSV in itself
    click.echo(text.rstrip("\r\n"))


def block_called(farm: Farm, name: str) -> int:
    """Return the id of the block of that name, its capitals and accents aside where only one fits.

    Raises
    ------
    BadInput
        There is none of that name, or several; the message lists those there are.
    """
    from farmmap.farm.species import plain

    names = farm.blocks["name"]
    same = names.index[(names == name).to_numpy(bool)].tolist()
    same = same or [row for row, known in names.items() if plain(str(known)) == plain(name)]
    if len(same) == 1:
        return int(same[0])
    if same:
        raise BadInput(f"{len(same)} blocks are called '{name}'; give each its own name first")
    if not len(names):
        raise BadInput(f"there is no block '{name}', as the farm has none yet; draw it or bring it in first")
    known = sorted({str(one) for one in names if str(one).strip()}, key=str.casefold)
    if not known:
        raise BadInput(f"there is no block '{name}' on this farm, as none has a name yet; give them names first")
    near = get_close_matches(plain(name), map(plain, known), 1)
    meant = "".join(f". Is {one} meant?" for one in known if plain(one) in near)
    raise BadInput(f"there is no block '{name}' on this farm; there are: {', '.join(known)}{meant}")


def refuse_to_write(out: Path, endings: tuple[str, ...], *kept: tuple[Path, str], option: str = "--out") -> None:
    """Say at once if a file to write would be of no use, or would be written over what must stay.

    Parameters
    ----------
    out : Path
        The file to write.
    endings : tuple of str
        Endings that it may have.
    kept : tuple of Path and str
        Files that stay as they are, and what each is, in words.
    option : str
        Option with which it was given.

    Raises
    ------
    click.BadParameter
        It cannot be written so.
    """
    if out.suffix.lower() not in endings:
        many = f"ends in none of {', '.join(endings)}" if len(endings) > 1 else f"does not end in {endings[0]}"
        raise click.BadParameter(f"{out} {many}", param_hint=option)
    try:
        for other, words in kept:
            if out.resolve() == other.resolve() or (out.exists() and other.exists() and out.samefile(other)):
                raise click.BadParameter(f"{out} is {words}; give it another name", param_hint=option)
        there = out.resolve().parent.is_dir()
    except (OSError, ValueError) as error:  # too long, or with a letter that no name may have
        raise click.BadParameter(f"no file can be called so ({error})", param_hint=option) from error
    if not there:
        raise click.BadParameter(f"the folder of {out} is not there; make it first", param_hint=option)
