"""The command line: the one place, beside the window's start, that puts the parts together.

Nothing heavy is imported before it is needed, and no Qt unless a map is drawn.
"""

from __future__ import annotations

import datetime as dt
import importlib
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from farmmap import __version__
from farmmap.command_parts import FARM, Day, farm_argument, format_option, on_option, say_table
from farmmap.errors import FarmmapError, Stopped

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm
    from farmmap.figures.result import FigureTable
    from farmmap.files.bring import Brought, Source

BRINGABLE = (
    "boundary", "blocks", "creeks", "fences", "tracks", "hazards", "trees", "measurements", "plots", "photo_points",
)  # fmt: skip
BAD_ROWS_SHOWN = 20
"""Bad rows listed on the screen; all of them are in the file set aside."""


COMMANDS_OF_THEIR_OWN = {
    "measuring": "measuring_command",
    "outlook": "outlook_command",
    "pack": "pack_command",
    "photos": "photos_command",
    "plant": "planting_command",
    "plots": "plots_command",
    "products": "products_command",
    "pruning": "pruning_command",
    "replant": "planting_command",
    "sheet": "sheet_command",
    "thin": "thin_command",
}
"""Commands in modules of their own, each brought in when it is asked for, as the window needs none of them."""


class FarmGroup(click.Group):
    """Commands, and a farm file's name on its own, which opens the window."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of all commands, those that are not brought in yet among them."""
        return sorted({*super().list_commands(ctx), *COMMANDS_OF_THEIR_OWN})

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command, brought in if need be."""
        if cmd_name in COMMANDS_OF_THEIR_OWN and cmd_name not in self.commands:
            module = importlib.import_module(f"farmmap.{COMMANDS_OF_THEIR_OWN[cmd_name]}")
            self.add_command(getattr(module, cmd_name))
        return super().get_command(ctx, cmd_name)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Take what is no command, but the name of a file, as a farm to open."""
        name = args[0]
        if name not in self.list_commands(ctx) and (name.lower().endswith(".gpkg") or Path(name).exists()):
            return "open", self.commands["open"], args
        return super().resolve_command(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        """Turn every error that has words for people into a line and an exit code."""
        try:
            return super().invoke(ctx)
        except Stopped as error:
            raise click.ClickException(str(error) or "stopped; nothing was changed") from error
        except FarmmapError as error:
            raise click.ClickException(str(error)) from error


@click.group(
    cls=FarmGroup,
    invoke_without_command=True,
    subcommand_metavar="[FARM.gpkg] | COMMAND ...",
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(__version__, message="farmmap %(version)s")
@click.pass_context
def main(ctx: click.Context) -> None:
    """Keep a farm's trees in one file, see them as a map, and work out their figures.

    With no command, or with a farm file's name alone, the window opens.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    if ctx.invoked_subcommand is None:
        _open_window(None)


@main.command("open", hidden=True)
@farm_argument
def open_command(farm_file: Path) -> None:
    """Open the window on a farm."""
    if not farm_file.exists():
        raise FarmmapError(f"{farm_file} is not there; make a new farm with: farmmap new {farm_file} --name NAME")
    _open_window(farm_file)


def _open_window(path: Path | None) -> None:
    from farmmap.screen import NO_SCREEN, may_have_screen, need_qt

    need_qt()
    if not may_have_screen():
        raise FarmmapError(NO_SCREEN)
    from farmmap.window.start import open_window

    sys.exit(open_window(path))


@main.command()
@farm_argument
@click.option("--name", required=True, help="Name of the farm.")
@click.option("--grid", required=True, help="Its grid by EPSG number, such as EPSG:2193.")
@click.option("--breast-height", type=click.Choice(["1.3", "1.4"]), help="Height of the tape above ground, in m.")
def new(farm_file: Path, name: str, grid: str, breast_height: str | None) -> None:
    """Make a new, empty farm file."""
    from dataclasses import replace

    from farmmap.farm.farm import Farm, new_farm
    from farmmap.files.farm_file import write_farm

    farm = new_farm(name, grid)
    if breast_height:
        farm = Farm(replace(farm.settings, breast_height_m=float(breast_height)), farm.tables)
    write_farm(farm, farm_file)
    height = farm.settings.breast_height_m
    click.echo(f"{farm_file}: {farm.settings.name}, on {farm.grid.name} ({farm.grid.label}), breast height {height} m")


@main.command()
@click.argument("source", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--into", "farm_file", metavar="FARM.gpkg", type=FARM, required=True, help="Farm file to bring it into.")
@click.option("--as", "table", type=click.Choice(BRINGABLE), required=True, help="What the source holds.")
@click.option("--grid", help="Grid of the source, such as EPSG:2193; longitude and latitude are EPSG:4326.")
@click.option("--column", "columns", multiple=True, metavar="OURS=THEIRS", help="Fill our column from theirs.")
@click.option("--measured-on", type=Day(), help="Day of all measurements that carry none.")
@click.option("--layer", help="Which layer of a GeoPackage; needed only if it has several.")
@click.option("--origin", metavar="E,N", help="Where 0,0 of the source's own coordinates lies on the farm's grid.")
@click.option("--anyway", is_flag=True, help="Bring it in even though it lies far from the farm.")
@click.option("--show-plan", is_flag=True, help="Only show which column would go where.")
def bring(
    source: Path,
    farm_file: Path,
    table: str,
    grid: str | None,
    columns: tuple[str, ...],
    measured_on: dt.date | None,
    layer: str | None,
    origin: str | None,
    anyway: bool,
    show_plan: bool,
) -> None:
    """Bring what SOURCE holds into a farm: GeoPackage, GeoJSON, GPX, KML or CSV."""
    from farmmap.files import bring as bringing
    from farmmap.files.farm_file import read_farm, write_edit_beside
    from farmmap.files.holding import held

    hold = None
    if farm_file.exists() and not show_plan:
        hold = click.get_current_context().with_resource(held(farm_file))
    farm = read_farm(farm_file)
    found = bringing.read_source(source, layer=layer, like=table)
    plan = bringing.guess_plan(found, table)
    for pair in columns:
        ours, equals, theirs = pair.partition("=")
        if not equals:
            raise click.BadParameter(f"'{pair}' is not OURS=THEIRS, such as dbh_cm=diameter", param_hint="--column")
        plan = plan.with_column(ours.strip(), theirs.strip())
    click.echo(plan.as_text())
    if show_plan:
        return
    brought = bringing.bring(
        farm,
        found,
        table,
        plan=plan,
        grid=grid,
        measured_on=measured_on,
        origin=None if origin is None else _east_north(origin),
        anyway=anyway,
    )
    for line in brought.said:
        click.echo(line)
    if brought.edit is not None:
        if hold is not None:
            hold.refresh()  # this machine may have slept, and another taken the farm over
        write_edit_beside(farm_file, brought.edit)
    rows = "row" if brought.read == 1 else "rows"
    click.echo(f"{brought.read} {rows} read, {brought.came_in} came in, {len(brought.bad)} set aside")
    if brought.bad:
        _set_aside(brought, found)


def _set_aside(brought: Brought, source: Source) -> None:
    """Say which rows did not come in and why, and put them into a file; all are listed if it cannot be written."""
    from farmmap.files.bring import write_set_aside

    try:
        aside, shown = write_set_aside(brought, source), BAD_ROWS_SHOWN
    except FarmmapError as error:
        click.echo(str(error), err=True)
        aside, shown = None, len(brought.bad)
    for bad in brought.bad[:shown]:
        click.echo(f"  row {bad.row_number}: {bad.reason}")
    if len(brought.bad) > shown:
        click.echo(f"  and {len(brought.bad) - shown} more")
    if aside is not None:
        click.echo(f"The rows set aside are in {aside}; mend them there and bring that file in.")


def _east_north(text: str) -> tuple[float, float]:
    try:
        east, north = (float(part) for part in text.split(","))
    except ValueError as error:
        raise click.BadParameter(f"'{text}' is not E,N, such as 1812340,5478020", param_hint="--origin") from error
    return east, north


@main.command()
@farm_argument
@click.option("--of", "what", type=click.Choice(["farm", "blocks", "margins", "trees", "ground"]), required=True)
@on_option
@format_option
@click.option("--class-cm", type=click.FloatRange(0.1, 100), help="Width of a diameter class.")
def figures(farm_file: Path, what: str, day: dt.date | None, form: str, class_cm: float | None) -> None:
    """Work out the figures of a farm, its blocks, creek margins or trees, or of the ground of its blocks."""
    from farmmap.files.farm_file import read_farm

    say_table(_figures(read_farm(farm_file), what, day, class_cm, farm_file.parent), form)


def _figures(
    farm: Farm, what: str, day: dt.date | None, class_cm: float | None = None, folder: Path | None = None
) -> FigureTable:
    from farmmap.figures.blocks import block_figures
    from farmmap.figures.margins import margin_figures
    from farmmap.figures.trees import tree_figures
    from farmmap.figures.whole_farm import farm_figures

    if what == "blocks":
        return block_figures(farm, day, class_cm=class_cm)
    if what == "ground":
        from farmmap.figures.ground import ground_figures
        from farmmap.scene.backdrops import find_backdrops

        backdrops = find_backdrops(farm, folder)
        return ground_figures(farm, backdrops.heights, said=backdrops.said)
    return {"farm": farm_figures, "margins": margin_figures, "trees": tree_figures}[what](farm, day)


@main.command()
@click.argument("figure", nargs=-1, required=True)
def explain(figure: tuple[str, ...]) -> None:
    """Say how a figure is worked out: its symbol, unit, formula and source."""
    from farmmap.figures.catalogue import explain as words

    click.echo(words(" ".join(figure)))


@main.command()
@farm_argument
@click.pass_context
def check(ctx: click.Context, farm_file: Path) -> None:
    """List what is wrong with a farm file; exit 1 if anything is."""
    from farmmap.files.checks import check_farm

    findings = check_farm(farm_file)
    for finding in findings:
        click.echo(str(finding))
    if findings:
        ctx.exit(1)
    click.echo(f"{farm_file}: nothing is wrong with it")


@main.command()
@click.option("--out", "folder", type=click.Path(path_type=Path, file_okay=False), default=Path("farmmap-demo"))
def demo(folder: Path) -> None:
    """Show the invented sample farm, Pipit Downs: in the window, or without a screen as tables and a map."""
    from farmmap.files.farm_file import read_farm
    from farmmap.resource_files import sample_farm_files
    from farmmap.screen import has_screen, need_qt

    folder.mkdir(parents=True, exist_ok=True)
    farm_file = folder / "pipit_downs.gpkg"
    if not farm_file.exists():
        for path in sample_farm_files():
            shutil.copyfile(path, folder / path.name)
    if has_screen():
        click.echo(f"Opening {farm_file}, the invented sample farm.")
        _open_window(farm_file)
    click.echo("There is no screen here, so the window stays shut. The figures of the invented sample farm:\n")
    farm = read_farm(farm_file)
    for what in ("blocks", "margins"):
        click.echo(_figures(farm, what, None).as_text())
    need_qt()
    from farmmap.sheet_command import write_pages
    from farmmap.sheets.sheet import SheetOptions, compose

    page = compose(farm, None, SheetOptions("A3", folder=folder))
    write_pages(page.document(), page.words, folder / "pipit_downs.pdf", folder / "pipit_downs.png")
