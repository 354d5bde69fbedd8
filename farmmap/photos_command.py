"""``farmmap photos``: photo points and photographs from the command line: list them, add to them, print their sheet.

Nothing heavy is imported before it is needed, and no Qt unless a sheet is printed.
"""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from farmmap.command_parts import (
    FARM,
    SHEET_ENDINGS,
    THE_FARM,
    Day,
    farm_argument,
    format_option,
    page_asked,
    page_options,
    refuse_to_write,
    say,
)

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm
    from farmmap.files.photos import Photo


@click.command()
@farm_argument
@click.option(
    "--add",
    "added",
    type=FARM,
    multiple=True,
    metavar="FILE",
    help="Add a photograph, JPEG or PNG; its file stays where it is. May be given again.",
)
@click.option("--point", metavar="NAME", help="Photo point that they were taken from; else by the place in the file.")
@click.option("--caption", default="", help="What they show.")
@click.option("--taken", type=Day(), help="Day on which they were taken; else as the file says.")
@format_option
@click.option("--out", type=FARM, metavar="FILE", help="Sheet of photo points and photographs: FILE.pdf or FILE.png.")
@page_options
def photos(
    farm_file: Path,
    added: tuple[Path, ...],
    point: str | None,
    caption: str,
    taken: dt.date | None,
    form: str,
    out: Path | None,
    paper: str,
    compass: bool,
) -> None:
    """List the photographs of a farm by photo point, add some, or print them with a map of the photo points."""
    from farmmap.files.farm_file import read_farm

    if not added and (point or caption or taken):
        raise click.UsageError("--point, --caption and --taken say something of photographs that are added: give --add")
    if out is not None:
        refuse_to_write(out, SHEET_ENDINGS, (farm_file, THE_FARM), *((path, "a photograph") for path in added))
    page = page_asked(out, farm_file.parent, paper, compass=compass)
    if added:
        farm = _add(farm_file, added, point, caption, taken)
    else:
        farm = read_farm(farm_file)
        _list(farm, farm_file.parent, form)
    if out is not None and page is not None:
        from farmmap.sheets.photo_sheet import compose_photo_points
        from farmmap.sheets.write import write_sheet

        sheet = compose_photo_points(farm, None, page)
        write_sheet(sheet, out)
        click.echo(f"{out}: {sheet.words}", err=True)


def _add(farm_file: Path, added: tuple[Path, ...], point: str | None, caption: str, taken: dt.date | None) -> Farm:
    from farmmap.editing.photos import photos_added, point_named
    from farmmap.files.farm_file import read_farm, write_edit_beside
    from farmmap.files.holding import held

    hold = click.get_current_context().with_resource(held(farm_file)) if farm_file.exists() else None
    farm = read_farm(farm_file)
    where = point_named(farm, point) if point else 0
    proposed = photos_added(farm, added, farm_file.parent, point=where, caption=caption, taken_on=taken)
    if hold is not None:
        hold.refresh()  # this machine may have slept, and another taken the farm over
    write_edit_beside(farm_file, proposed.edit)
    click.echo("\n".join((f"{proposed.edit.name}: done", *proposed.notes)))
    return proposed.edit.apply(farm)


def _list(farm: Farm, folder: Path, form: str) -> None:
    from farmmap.files.photos import photos_of

    found = photos_of(farm, folder)
    names = farm.tables["photo_points"]["name"]
    rows = [_line(photo, str(names.get(photo.point, ""))) for photo in found]
    if form == "json":
        say(json.dumps(rows, ensure_ascii=False, indent=2))
    elif form == "csv":
        import csv
        import io

        text = io.StringIO()
        writer = csv.DictWriter(text, ["photo_point", "taken_on", "caption", "path", "trouble"])
        writer.writeheader()
        writer.writerows(rows)
        say(text.getvalue())
    else:
        _say_text(farm, [photo.point for photo in found], rows)


def _line(photo: Photo, point: str) -> dict[str, str]:
    return {
        "photo_point": point,
        "taken_on": "" if photo.taken_on is None else photo.taken_on.isoformat(),
        "caption": photo.caption,
        "path": str(photo.path),
        "trouble": photo.trouble,
    }


def _say_text(farm: Farm, taken_from: list[int], rows: list[dict[str, str]]) -> None:
    """Print the photo points with what was taken from each, then what was taken from none that is there."""
    from farmmap.scene.page_photos import view_words

    points = farm.tables["photo_points"]
    for row in points.itertuples():
        words = view_words(float(row.bearing_deg), float(row.height_m))
        click.echo(f"{row.name}: {words}" if words else str(row.name))
        _say_photos([one for point, one in zip(taken_from, rows, strict=True) if point == row.Index])
    without = [one for point, one in zip(taken_from, rows, strict=True) if point not in points.index]
    if without:
        click.echo("without a photo point")
        _say_photos(without)
    if not len(points) and not rows:
        click.echo("no photo points and no photographs yet; add some with --add FILE")


def _say_photos(rows: list[dict[str, str]]) -> None:
    for one in rows:
        parts = (one["taken_on"] or "day not known", one["caption"], one["trouble"] or one["path"])
        click.echo(f"  {'  '.join(part for part in parts if part)}")
