"""The numbers on a page are those of ``farmmap figures`` and ``farmmap plant``, read from the page's text."""

import json
import re
import shutil

import numpy as np
import pypdfium2
import pytest
import shapely
from click.testing import CliRunner

from farmmap.commands import main
from farmmap.farm.farm import shaped
from farmmap.farm.schema import TABLES
from farmmap.figures.catalogue import CATALOGUE
from farmmap.figures.result import shown
from farmmap.files.farm_file import write_farm
from farmmap.resource_files import sample_farm_files, sample_farm_path
from farmmap.scene.page_plan import zone_letter
from farmmap.sheets.pack.farm_tables import BLOCK_FIGURES, FARM_FIGURES
from tests.conftest import days, small_farm
from tests.place import EAST, NORTH

PLAN = "Lower Sedge"
OTHER_RECIPE = """
title = "Sedges and poles"
currency = "€"
[[width]]
width_m = 9
[[zone]]
name = "Edge"
width_m = 3
pattern = "triangular"
spacing_m = 0.9
[[zone.plant]]
species = "pūkio"
share = 0.65
[[zone.plant]]
species = "mānuka"
share = 0.35
[[zone]]
name = "Bank"
width_m = 6
pattern = "rows"
between_m = 2.5
within_m = 1.5
[[zone.plant]]
species = "tōtara"
share = 1
stock = "pole"
[fence]
gates_every_m = 90
[order.seedling]
lost_percent = 15
pack = 40
price = 2.35
months = ["June"]
[order.pole]
lost_percent = 25
price = 11.5
[rates]
fence_m = 13.37
gate = 310
hour = 31.5
[shares.plants]
grant_percent = 60
[shares.fence]
grant_percent = 33
in_kind_percent = 21
"""


def run(*arguments):
    found = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert found.exit_code == 0, found.output
    return found.output


def random_farm(seed):
    """The small farm with other blocks, and trees and readings by chance."""
    rng, farm = np.random.default_rng(seed), small_farm()
    count = 5
    west = np.sort(rng.uniform(-15, 200, count))
    boxes = [
        shapely.box(EAST + x, NORTH + 5, EAST + min(x + rng.uniform(9, 40), 218), NORTH + rng.uniform(30, 90))
        for x in west
    ]
    trees = 300
    x, y = EAST + rng.uniform(-15, 215, trees), NORTH + rng.uniform(-50, 95, trees)

    def rows(table, **values):
        many = len(next(iter(values.values())))
        return shaped(TABLES[table], values, np.arange(1, many + 1), farm.grid)

    return farm.with_tables(
        blocks=rows("blocks", name=[f"Paddock {at}" for at in range(1, count + 1)], geometry=boxes),
        trees=rows("trees", tag=[str(at) for at in range(trees)], species=rng.choice(["TOTA", "REDW"], trees), x=x, y=y),
        measurements=rows(
            "measurements", tree=np.arange(1, trees + 1), measured_on=days(*["2020-05-01"] * trees),
            dbh_cm=rng.uniform(8, 60, trees).round(1), height_m=rng.uniform(4, 30, trees).round(1),
        ),
        plots=farm.tables["plots"][:0],
    )  # fmt: skip


class Farm:
    """A farm file with a plan in it, what the commands say of it, and what its pages read."""

    def __init__(self, folder, path, recipe, stretch):
        asked = ("plant", path, "--creek", "Sedge Creek", "--recipe", recipe, "--name", PLAN, *stretch)
        self.path, self.folder = path, folder
        self.said = {}
        self.planting = json.loads(run(*asked, "--format", "json"))
        self.planting_text = run(*asked, "--accept")

    def figures(self, of):
        return json.loads(self._figures(of, "json"))

    def text(self, of):
        return self._figures(of, "text")

    def _figures(self, of, form):
        if (of, form) not in self.said:
            self.said[of, form] = run("figures", self.path, "--of", of, "--format", form)
        return self.said[of, form]

    def page(self, *command):
        out = self.folder / f"{command[0]}.pdf"
        run(command[0], self.path, "--out", out, *command[1:])
        with pypdfium2.PdfDocument(out) as pdf:
            return plain(" ".join(page.get_textpage().get_text_range() for page in pdf))


@pytest.fixture(scope="module", params=["sample", "random"])
def one(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("farm")
    if request.param == "sample":
        for file in sample_farm_files():
            if file.is_file():
                shutil.copyfile(file, folder / file.name)
        stretch = ("--bank", "left", "--from", "1000", "--to", "1250")
        return Farm(folder, folder / "pipit_downs.gpkg", sample_farm_path().with_name("sedge_edge_10m.toml"), stretch)
    write_farm(random_farm(20261126), folder / "random.gpkg")
    (folder / "recipe.toml").write_text(OTHER_RECIPE, encoding="utf-8")
    return Farm(
        folder, folder / "random.gpkg", folder / "recipe.toml", ("--bank", "right", "--from", "15", "--to", "205")
    )


@pytest.fixture(scope="module")
def pack(one):
    return one.page("pack", "--plan", PLAN)


def plain(text):
    """Text with single spaces, also where thousands are parted."""
    return " ".join(text.split())


def reads(page, *cells):
    """Whether cells stand one after the other on a page; a ligature may be read as one letter."""
    words = plain(" ".join(str(cell) for cell in cells if str(cell)))
    pattern = re.escape(words)
    for ligature in ("ft", "fi", "tt"):
        pattern = pattern.replace(ligature, f"(?:{ligature}|.)")
    pattern = pattern.replace(",", r"[,\s]?")  # thousands are parted by a thin space on pages
    return re.search(rf"(?<!\S){pattern}(?!\S)", page) is not None


def assert_reads(page, *cells):
    assert reads(page, *cells), cells


def rows_under(text, title):
    """Rows of a table of a command's text, its cells parted where two spaces stand."""
    part = text.split(f"\n{title}\n\n")[1].split("\n\n")[0]
    lines = part.splitlines()
    assert set(lines[1]) <= {"-", " "}
    ends = [found.span() for found in re.finditer("-+", lines[1])]
    return [
        [line[low : (high if at < len(ends) - 1 else None)].strip() for at, (low, high) in enumerate(ends)]
        for line in lines[2:]
        if "  " in line
    ]


def whole(number):
    return f"{number:,.0f}"


def money(value):
    return f"{value:,.2f}"


def test_the_farms_figures_are_in_the_pack(one, pack):
    (row,) = one.figures("farm")
    for name in FARM_FIGURES:
        assert_reads(pack, CATALOGUE[name].title, shown(name, row.get(name)), CATALOGUE[name].unit)


def test_the_margins_are_in_the_pack(one, pack):
    lines = [line for line in one.text("margins").splitlines()[4:] if re.search(r"  (left|right)  ", line)]
    assert len(lines) == len(one.figures("margins"))
    for line in lines:
        assert_reads(pack, *re.split(r"\s{2,}", line.strip()))


def test_the_blocks_and_their_species_are_in_the_pack(one, pack):
    sampled = "Counted" in one.text("blocks")
    seen = 0
    for row in one.figures("blocks"):
        if row["name"].startswith(PLAN):
            continue
        cells = [shown(name, row.get(name)) for name in BLOCK_FIGURES]
        counted = [row["counted"] or "–"] if "counted" in row and sampled else []
        assert_reads(pack, cells[0], *counted, *cells[1:])
        for kind in row.get("species") or ():
            assert_reads(
                pack, kind["species"], shown("stems", kind["stems"]), shown("stems_per_ha", kind["stems_per_ha"]),
                shown("basal_area_m2_per_ha", kind["basal_area_m2_per_ha"]), f"{kind['percent']:.0f}",
            )  # fmt: skip
            seen += 1
    assert seen > 3


def test_zones_and_plants_of_the_plan_are_in_the_pack(one, pack):
    for at, (row, zone) in enumerate(zip(rows_under(one.planting_text, "Zones"), one.planting["zones"], strict=True)):
        name, _, spacing, area, planted, plants, per_ha, _ = row
        assert_reads(pack, zone_letter(at), name, spacing or "–", area, planted, plants, per_ha, zone["reason"])
    for row in rows_under(one.planting_text, "Plants to order"):
        species, stock, plants, lost, with_losses, to_order, packs = row
        assert_reads(pack, species, stock, plants, lost.removesuffix(" %"), with_losses, to_order, packs or "–")
    for row in rows_under(one.planting_text, "Plants by zone"):
        _, species, stock, plants, to_order, reason = row
        assert re.search(species, pack)
        assert_reads(pack, stock, plants, to_order, reason)


def test_fence_materials_and_work_are_in_the_pack(one, pack):
    assert one.planting["fences"]
    for at, fence in enumerate(one.planting["fences"], 1):
        numbers = (fence["length_m"], fence["strainers"], fence["posts"], fence["battens"], fence["wire_m"])
        more = (fence["gates"], fence["floodgates"], fence["troughs"], fence["flooded_m"])
        assert_reads(pack, f"F{at}", "new,", f"{fence['bank']} bank", *map(whole, (*numbers, *more)))
    for row in rows_under(one.planting_text, "What else is needed"):
        assert_reads(pack, *row)
    for row in rows_under(one.planting_text, "Calendar"):
        assert_reads(pack, *row)


def test_every_line_of_the_costs_is_in_the_pack(one, pack):
    assert one.planting["costs"]
    lines = [row for row in rows_under(one.planting_text, "Costs") if row[1] != "together"]
    assert len(lines) == len(one.planting["costs"])
    for _, what, quantity, unit, rate, cost, grant, in_kind, own in lines:
        assert_reads(pack, what, quantity, unit, rate, grant, own, in_kind, cost)
    totals = [one.planting[f"cost_{of}"] for of in ("grant", "own", "in_kind", "total")]
    assert_reads(pack, "All", *map(money, totals))
    for words, value in zip(("Asked of the grant", "Own cash", "In kind", "Total cost"), totals, strict=True):
        assert_reads(pack, words, money(value), one.planting["currency"])


def test_the_cover_to_come_is_in_the_pack(one, pack):
    low = one.planting["cover_with_low_growth_percent_by_year"]
    for year in ("5", "10", "20"):
        woody = one.planting["cover_percent_by_year"][year]
        assert re.search(rf"{year} years \S+ planting {woody:.0f} {low[year]:.0f}(?!\S)", pack)
    assert re.search(rf"20 years \S+ planting {one.planting['cover_percent_by_year']['20']:.0f} %", pack)


def test_the_map_sheet_has_the_figures_of_blocks_and_margins(one):
    page = one.page("sheet", "--paper", "A2", "--landscape")
    names = ("name", "net_area_ha", "stems", "stems_per_ha", "basal_area_m2_per_ha", "qmd_cm", "crown_cover_percent")
    for row in one.figures("blocks"):
        name, *cells = (shown(name, row.get(name)) for name in names)
        assert reads(page, name, *cells) or reads(page, name, row["counted"] or "–", *cells), (name, cells)
    names = ("creek", "bank", "area_ha", "length_m", "mean_width_m", "fenced_percent", "cover_percent", "longest_gap_m")
    for row in one.figures("margins"):
        assert_reads(page, *(shown(name, row.get(name)) for name in names))


def test_the_plan_sheet_has_the_figures_of_the_plan(one):
    page = one.page("sheet", "--plan", PLAN, "--paper", "A3", "--portrait")
    for row in rows_under(one.planting_text, "Plants to order"):
        species, stock, plants, _, _, to_order, packs = row
        assert_reads(page, species, stock, plants, to_order, packs or "–")
    for at, zone in enumerate(one.planting["zones"]):
        numbers = (
            f"{zone['area_ha']:.2f}",
            f"{zone['clear_ha']:.2f}",
            whole(zone["plants"]),
            whole(zone["plants_per_ha"]),
        )
        assert_reads(page, zone_letter(at), zone["name"], *numbers)
    totals = [money(one.planting[f"cost_{of}"]) for of in ("total", "grant", "in_kind", "own")]
    assert_reads(page, "All", *totals)
    for year in ("1", "5", "10", "20"):
        woody = one.planting["cover_percent_by_year"][year]
        low = one.planting["cover_with_low_growth_percent_by_year"][year]
        assert re.search(rf"{year} years? \S+ planting {woody:.0f} {low:.0f}(?!\S)", page)
