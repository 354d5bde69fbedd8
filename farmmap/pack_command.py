"""``farmmap pack``: the application pack as one PDF, and as data, from the command line.

Nothing heavy is imported before it is needed.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from farmmap.command_parts import FARM, PAPERS, THE_FARM, farm_argument, on_option, refuse_to_write

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm
    from farmmap.sheets.pack.options import PackOptions

PACK_PAPERS = PAPERS[:2]
LOOKS = ("colour", "safe", "grey")


@click.command()
@farm_argument
@click.option("--out", type=FARM, metavar="FILE.pdf", help="The pack.")
@click.option(
    "--plan", "plans", multiple=True, metavar="NAME", help="Planting plan that it is for. May be given again."
)
@click.option("--parts", metavar="PART,PART,...", help="Parts in this order, such as summary,location; else all.")
@click.option("--data", type=click.Path(path_type=Path), metavar="FOLDER", help="Also as GeoPackage and CSV files.")
@click.option("--list", "is_list", is_flag=True, help="List the parts, and whether each can be made.")
@click.option(
    "--text",
    "texts",
    multiple=True,
    metavar="PART=TEXT",
    help="Your own words for a part, or PART=@FILE.txt; a + before the words sets them behind farmmap's.",
)
@click.option("--keep", is_flag=True, help="Keep parts and texts in the farm file, under the pack's name.")
@click.option("--name", default="Application", show_default=True, help="Name of the pack.")
@click.option("--title", default="", help="Title of its first page; else the names of plans and farm.")
@click.option("--applicant", default="", help="Who asks; else a line to fill in, as for the next three.")
@click.option("--scheme", default="", help="Grant or scheme.")
@click.option("--reference", default="", help="Reference number.")
@click.option("--property-id", default="", help="Id of property or parcels.")
@click.option("--author", default="", help="Who prepared it.")
@click.option("--edition", default="", help="Which version of the pack it is, such as 'draft 2'.")
@click.option("--paper", type=click.Choice(PACK_PAPERS, case_sensitive=False), default="A4", show_default=True)
@click.option(
    "--look",
    type=click.Choice(LOOKS),
    default="colour",
    show_default=True,
    help="For colour, for eyes that tell few colours apart, or for photocopies.",
)
@on_option
def pack(
    farm_file: Path,
    out: Path | None,
    plans: tuple[str, ...],
    parts: str | None,
    data: Path | None,
    is_list: bool,
    texts: tuple[str, ...],
    keep: bool,
    name: str,
    title: str,
    applicant: str,
    scheme: str,
    reference: str,
    property_id: str,
    author: str,
    edition: str,
    paper: str,
    look: str,
    day: dt.date | None,
) -> None:
    """Put a whole application together: one PDF with maps, figures, costs and checks, and the data behind it."""
    from farmmap.files.farm_file import read_farm
    from farmmap.screen import need_qt

    if out is None and data is None and not is_list and not keep:
        raise click.UsageError("say what is wanted: --out FILE.pdf, --data FOLDER, --keep or --list")
    if out is not None:
        refuse_to_write(out, (".pdf",), (farm_file, THE_FARM))
    if data is not None:
        from farmmap.files.data_folder import LAYERS_FILE, refuse_folder

        if (data / LAYERS_FILE).resolve() == farm_file.resolve():
            raise click.BadParameter(f"{farm_file} is {THE_FARM}; choose another folder", param_hint="--data")
        refuse_folder(data)
    need_qt()
    from farmmap.sheets.pack.options import PackOptions

    hold = None
    if keep and farm_file.exists():
        from farmmap.files.holding import held

        hold = click.get_current_context().with_resource(held(farm_file))
    farm = read_farm(farm_file)
    options = PackOptions(
        plans=plans,
        parts=None if parts is None else tuple(word for word in map(str.strip, parts.split(",")) if word),
        paper=paper.upper(),
        look=look,
        folder=farm_file.resolve().parent,
        title=title,
        texts=dict(map(_text, texts)),
        pack=name,
        applicant=applicant,
        scheme=scheme,
        reference=reference,
        property_id=property_id,
        author=author,
        version=edition,
    )
    if keep:
        _keep(farm, farm_file, day, options, hold)
    if is_list:
        _list(farm, day, options)
    if out is not None or data is not None:
        _write(farm, day, options, out, data)


def _text(words: str) -> tuple[str, str]:
    """Return part and text of ``PART=TEXT`` or ``PART=@FILE``."""
    part, equals, text = words.partition("=")
    if not equals or not part.strip():
        raise click.BadParameter(
            f"'{words}' is not PART=TEXT, such as summary=\"For the lower creek.\"", param_hint="--text"
        )
    if not text.startswith("@"):
        return part.strip(), text
    path = Path(text[1:])
    try:
        return part.strip(), path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise click.BadParameter(f"{path} cannot be read as text ({error})", param_hint="--text") from error


def _keep(farm: Farm, farm_file: Path, day: dt.date | None, options: PackOptions, hold: object) -> None:
    from farmmap.editing.pack_parts import parts_kept
    from farmmap.files.farm_file import write_edit_beside
    from farmmap.sheets.pack.compose import part_states

    states = part_states(farm, day, options)
    taken = [state.key for state in states if state.taken]
    texts = {state.key: state.text for state in states}
    proposed = parts_kept(farm, options.pack, [state.key for state in states], taken, texts)
    if hold is not None:
        hold.refresh()  # type: ignore[attr-defined] # this machine may have slept, and another taken the farm over
    write_edit_beside(farm_file, proposed.edit)
    click.echo(f"{farm_file}: the parts and texts of {options.pack} are now in the farm")


def _list(farm: Farm, day: dt.date | None, options: PackOptions) -> None:
    from farmmap.plans.planting.outcome.words import aligned
    from farmmap.sheets.pack.compose import part_states

    rows = [
        (state.key, state.title, _state(state.taken, state.lacks), "own" if state.text else "", state.about)
        for state in part_states(farm, day, options)
    ]
    heads = ("Part", "Title", "State", "Text", "What is in it")
    click.echo(aligned(f"Parts of {options.pack}", heads, rows, range(len(heads))))


def _state(taken: bool, lacks: str) -> str:
    if not taken:
        return "not taken"
    return f"left out: {lacks.partition(';')[0]}" if lacks else "taken"


def _write(farm: Farm, day: dt.date | None, options: PackOptions, out: Path | None, data: Path | None) -> None:
    from farmmap.sheets.pack.compose import make_pack

    made = make_pack(farm, day, options)
    if out is not None:
        from farmmap.sheets.write import write_document

        write_document(made.document, out)
        pages = len(made.document.pages)
        click.echo(f"{out}: {pages} page{'s' if pages != 1 else ''} of {options.paper}")
    if data is not None:
        from farmmap.files.data_folder import write_data_folder
        from farmmap.sheets.pack.data import data_of

        names = write_data_folder(data, data_of(made.context, made.tables))
        click.echo(f"{data}: {len(names)} files, listed in README.txt")
    _say(made.messages)


def _say(messages: Iterable[str]) -> None:
    for message in messages:
        click.echo(message)
