"""``farmmap sheet``: the farm's map on paper, that of a planting plan, a series of pages, or a sheet that was kept.

Nothing heavy is imported before it is needed.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from farmmap.command_parts import FARM, PAPERS, THE_FARM, Day, farm_argument, refuse_to_write

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm
    from farmmap.sheets.page import Document, SheetOptions

MAP_ENDINGS = (".pdf", ".png", ".svg")
LOOKS = ("colour", "safe", "grey")
SERIES = ("blocks", "grid")

NOT_WITH_KEPT = (
    "paper", "landscape", "scale", "title", "plan_name", "series", "look", "graticule", "declination", "overview",
    "beside", "photos", "note", "credit", "edition", "left_out",
)  # fmt: skip
"""Options that a kept sheet settles by itself."""


@click.command()
@farm_argument
@click.option("--out", "out", type=FARM, required=True, help="map.pdf, map.png or map.svg")
@click.option("--paper", type=click.Choice(PAPERS, case_sensitive=False), default="A3", show_default=True)
@click.option(
    "--landscape/--portrait", "landscape", default=None, help="Which way the page lies; else as the farm does."
)
@click.option(
    "--scale", type=click.IntRange(100, 1_000_000), help="5000 for 1:5000; else the largest round one that fits."
)
@click.option("--title", help="Title of the page; else the farm's name.")
@click.option("--on", "day", type=Day(), help="Day that the map shows; the newest measurement if not given.")
@click.option("--plan", "plan_name", metavar="NAME", help="Print a planting plan that the farm keeps, with its order.")
@click.option("--kept", metavar="NAME", help="Print a sheet that was composed in the window and kept under a name.")
@click.option(
    "--series", type=click.Choice(SERIES), help="A page for each block, or a grid of sheets over the whole farm."
)
@click.option(
    "--look", type=click.Choice(LOOKS), default="colour", show_default=True,
    help="safe: for eyes that tell few colours apart; grey: hatched, for photocopies.",
)  # fmt: skip
@click.option("--graticule", is_flag=True, help="Draw lines of latitude and longitude as well.")
@click.option(
    "--declination", "--compass", "declination", is_flag=True,
    help="Say how a compass needle lies to the map on the day of printing.",
)  # fmt: skip
@click.option(
    "--overview/--no-overview", "overview", default=None,
    help="A small map of the whole farm; else where the page shows only a part of it.",
)  # fmt: skip
@click.option("--beside", is_flag=True, help="Show what stands and what is planned on two maps side by side.")
@click.option("--photos", is_flag=True, help="Print the farm's photographs, too.")
@click.option("--note", default="", help="A note of your own on the page.")
@click.option("--credits", "credit", default="", help="Whose work it is, as it is to stand on the page.")
@click.option("--edition", default="", help="Which version of the page it is, such as 'draft 2'.")
@click.option(
    "--leave-out", "left_out", multiple=True, metavar="ELEMENT",
    help="Leave something off the page, such as notes, blocks, margins, grid or 'scale bar'; may be given again.",
)  # fmt: skip
def sheet(farm_file: Path, out: Path, day: dt.date | None, **chosen: Any) -> None:
    """Print the farm's map as PDF, PNG or SVG.

    Or that of a planting plan with --plan, a series of pages with --series, or a sheet that was kept with --kept.
    """
    from farmmap.files.farm_file import read_farm
    from farmmap.screen import need_qt

    _refuse(chosen)
    refuse_to_write(out, MAP_ENDINGS, (farm_file, THE_FARM))
    need_qt()
    farm = read_farm(farm_file)
    kept, plan_name, series = chosen.pop("kept"), chosen.pop("plan_name"), chosen.pop("series")
    if kept is not None:
        document, words = _kept(farm, day, kept, farm_file.parent)
    else:
        document, words = _composed(farm, day, _options(chosen, farm_file.parent), plan_name, series)
    write_pages(document, words, out)


def _refuse(chosen: dict[str, Any]) -> None:
    """Say which options do not go together."""
    source = click.get_current_context().get_parameter_source
    given = [name for name in NOT_WITH_KEPT if source(name) == ParameterSource.COMMANDLINE]
    if chosen["kept"] is not None and given:
        raise click.UsageError(
            f"--kept prints a sheet as it was composed; leave {_option(given[0])} out, or change it in the window"
        )
    if chosen["series"] is not None and chosen["plan_name"] is not None:
        raise click.UsageError("--series prints pages of the farm and --plan that of a planting; give one of them")
    if chosen["series"] is not None and chosen["beside"]:
        raise click.UsageError("pages of a series have one map each; leave out --beside or --series")
    if chosen["series"] is not None and chosen["photos"]:
        raise click.UsageError("a series has no pages of photographs; leave out --photos, or print: farmmap photos")
    if chosen["plan_name"] is not None and chosen["photos"]:
        raise click.UsageError("the page of a plan has no photographs; leave out --photos, or print: farmmap photos")


def _option(name: str) -> str:
    option = next(one for one in sheet.params if one.name == name)
    return option.opts[0]


def _options(chosen: dict[str, Any], folder: Path) -> SheetOptions:
    from farmmap.sheets.page import SheetOptions

    return SheetOptions(
        paper=chosen["paper"].upper(),
        credits=chosen["credit"],
        version=chosen["edition"],
        left_out=frozenset(name.strip().lower() for name in chosen["left_out"]),
        folder=folder,
        **{
            name: chosen[name]
            for name in (
                "landscape", "scale", "title", "look", "graticule", "declination", "overview", "beside", "photos",
                "note",
            )
        },
    )  # fmt: skip


def _composed(
    farm: Farm, day: dt.date | None, options: SheetOptions, plan_name: str | None, series: str | None
) -> tuple[Document, str]:
    from farmmap.sheets.lettering import not_written

    if series is not None:
        from farmmap.sheets.series import compose_series

        document = compose_series(farm, day, options, series)
        words = f"{len(document.pages)} pages"
    elif plan_name is not None:
        from farmmap.sheets.plan_sheet import compose_kept

        page = compose_kept(farm, day, plan_name, options)
        document, words = page.document(), page.words
    else:
        from farmmap.sheets.sheet import compose

        page = compose(farm, day, options)
        return page.document(), page.words
    return document, ". ".join((words, *not_written(document)))


def _kept(farm: Farm, day: dt.date | None, name: str, folder: Path) -> tuple[Document, str]:
    """Return a sheet as it was composed and kept, for the farm as it is now."""
    from farmmap.editing.kept_sheets import sheet_called
    from farmmap.errors import BadInput
    from farmmap.sheets.chosen import read
    from farmmap.sheets.subjects import compose_chosen

    kept = sheet_called(farm, name)
    if kept.trouble:
        raise BadInput(f"{kept.name} cannot be printed: {kept.trouble}")
    choices, notes = read(kept.choices)
    composed = compose_chosen(farm, day, choices.with_options(folder=folder))
    count = len(composed.document.pages)
    pages = "one page" if count == 1 else f"{count} pages"
    return composed.document, ". ".join((f"{kept.name}, {pages}", *notes, *composed.messages))


def write_pages(document: Document, words: str, *outs: Path) -> None:
    """Write pages to files, and say what they are."""
    from farmmap.sheets.write import write_document

    for out in outs:
        write_document(document, out)
        click.echo(f"{out}: {words}")
