"""Recipe files: what they say comes out, and what cannot work is told with its line, all at once."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from farmmap.errors import BadInput
from farmmap.files.farm_file import read_farm
from farmmap.plans.planting.recipes.kinds import plant_kinds
from farmmap.plans.planting.recipes.rates import UNITS
from farmmap.plans.planting.recipes.recipe import FenceWish, Kin, Pattern, Share, StockOrder, WidthRule
from farmmap.plans.planting.recipes.recipe_file import RecipeError, read_recipe, recipe_as_text, recipe_from_text
from farmmap.plans.planting.recipes.set_back_choices import set_back_choices
from farmmap.resource_files import sample_farm_path
from tests.plans.recipes.good_recipe import GOOD, faults, same

SAMPLES = sorted((Path(__file__).resolve().parents[3] / "sample_farm").glob("*.toml"))


def test_what_a_recipe_says_comes_out():
    recipe = recipe_from_text(GOOD, "r.toml")
    assert recipe.title == "Ten"
    assert recipe.widths == (WidthRule(width_m=10.0),)
    edge, bank = recipe.zones
    assert (edge.name, edge.share, edge.width_m) == ("Edge", None, 2.0)
    assert (edge.pattern, edge.between_m, edge.within_m) == (Pattern.TRIANGLE, 0.75, 0.75)
    assert edge.mix == (Kin("pukio", 0.6), Kin("swamp sedge", 0.4))
    assert (bank.share, bank.pattern, bank.between_m, bank.within_m, bank.groups_of) == (0.8, Pattern.ROWS, 2, 1.5, 3)
    assert bank.mix == (Kin("manuka", 1.0, "pole"),)
    assert recipe.fence == FenceWish(wanted=False)
    assert recipe.orders == {"rooted cutting": StockOrder(months=(6, 7, 8))}
    assert recipe.shares == {"": Share(50.0)}
    assert recipe.prices == {"manuka": 3.0}  # called as the mix calls it
    assert recipe.seed == 1


def test_lines_are_known_by_the_names_of_the_values():
    lines = recipe_from_text(GOOD, "r.toml").lines
    assert lines["title"] == 1
    assert lines["widths.0.width_m"] == 3
    assert lines["zones.0"] == 4
    assert lines["zones.0.mix.0.share"] == 11  # written as percent
    assert lines["zones.0.mix.1.share"] == 14
    assert lines["zones.1.share"] == 17
    assert lines["fence.wanted"] == 25
    assert lines["orders.rooted_cutting.months"] == 27
    single = "[width]\nwidth_m = 5\n[zone]\nbetween_m=1\nwithin_m=1\n[zone.plant]\nspecies='mānuka'\n"
    lines = recipe_from_text(single, "r.toml").lines
    assert (lines["widths.0.width_m"], lines["zones.0.between_m"], lines["zones.0.mix.0.species"]) == (2, 4, 7)


def test_set_backs_tell_where_they_come_from():
    plain = recipe_from_text(GOOD, "r.toml").set_backs
    assert (plain.fence_m, plain.track_m, plain.drain_m, plain.power_line_m) == (1.0, 3.0, None, None)
    assert "New Zealand 2017" in plain.source["fence_m"]
    assert plain.source["track_m"].startswith("common practice, no source")
    assert "power_line_m" not in plain.source
    chosen = recipe_from_text(
        GOOD + '[set_backs]\npower_line = "nz 11 kV"\nfence_m = "none"\ndrain_m = 5\npipeline_m = 3\n'
        '[set_backs.source]\ndrain_m = "the board"\n',
        "r.toml",
    ).set_backs
    assert (chosen.power_line_m, chosen.fence_m, chosen.drain_m) == (1.6, None, 5.0)
    assert "2003" in chosen.source["power_line_m"]
    assert "check your local code" in chosen.source["power_line_m"]
    assert chosen.source["drain_m"] == "the board"
    assert chosen.source["pipeline_m"] == "the recipe"


def test_a_plant_written_in_two_ways_is_one_plant():
    text = GOOD.replace("swamp sedge", "PTOT") + '[[zone]]\nwidth_m=0.0001\nspacing_m=1\npattern="square"\n'
    text = text.replace("share = 0.8", "share = 0.7") + "[[zone.plant]]\nspecies='Podocarpus totara'\n"
    recipe = recipe_from_text(text, "r.toml")
    assert recipe.zones[2].mix[0].species == recipe.zones[0].mix[1].species == "PTOT"


def test_small_misses_of_shares_are_taken_as_rounding():
    thirds = GOOD.replace("percent = 60", "percent = 33.3").replace("share = 0.4", "share = 0.333")
    thirds = thirds.replace(
        '[[zone]]\nname = "Bank"', "[[zone.plant]]\nspecies='PTOT'\nshare=0.333\n[[zone]]\nname='B'"
    )
    mix = recipe_from_text(thirds, "r.toml").zones[0].mix
    assert [kin.share for kin in mix] == pytest.approx([1 / 3] * 3, abs=1e-9)
    assert sum(kin.share for kin in mix) == pytest.approx(1, abs=1e-12)


# put in the place of what is named first: where the fault is told, and how
@pytest.mark.parametrize(
    ("old", "new", "line", "told"),
    [
        ("title", "titel", 1, "titel: there is no such key; did you mean title?"),
        ("width_m = 10", 'width_m = "10 m"', 3, 'must be a number, not the text "10 m"; write 10'),
        ("width_m = 10", "width_m = true", 3, "must be a number, not true"),
        ("width_m = 10", "width_m = nan", 3, "must be a number, not nan"),
        ("width_m = 10", "width_m = -inf", 3, "must be a number, not -inf"),
        ("width_m = 10", "width_m = 1e300", 3, "500 at most"),
        ("width_m = 10", f"width_m = 1{'0' * 400}", 3, "a number of very many figures"),
        ("width_m = 10", "width_m = 0", 3, "must be more than 0"),
        ("width_m = 10", "width_m = [10]", 3, "must be a number, not a list"),
        ("width_m = 10", "width_m = 2026-01-01", 3, "must be a number"),
        ("width_m = 10", "least_m = 3", 2, "does not say how wide"),
        ("width_m = 10", "width_m = 10\nto_fence = true", 2, "says width_m, to_fence at once"),
        ("width_m = 10", "width_m = 10\nleast_m = 9\nmost_m = 8", 4, "is 9, wider than most_m, 8"),
        ("width_m = 10", 'rule_set = "NZ"', 3, "is no rule that farmmap or your own file knows"),
        ("width_m = 10", 'rule_set = "NZ field study"', 3, "name one of 'least'; 'better'"),
        ("width_m = 10", 'rule_set = "NZ field study"\npurpose = "bettr"', 4, "did you mean better?"),
        ("width_m = 10", 'rule_set = "NZ stock exclusion"\npurpose = "x"', 4, "leave the purpose 'x' out"),
        ("width_m = 10", 'width_m = 10\npurpose = "x"', 4, "goes with a rule_set only"),
        ("width_m = 10", "by_channel = []", 3, "has no steps"),
        ("width_m = 10", "by_channel = [{ up_to_m = 2, width_m = 3 }]", 3, "take its up_to_m out"),
        ("width_m = 10", "by_channel = [\n{ width_m = 3 },\n{ width_m = 5 }]", 4, "only the last step goes without"),
        (
            "width_m = 10",
            "by_slope = [{ up_to_deg = 9, width_m = 3 },\n{ up_to_deg = 9, width_m = 5 }, { width_m = 12 }]",
            4,
            "is 9, not more than that of the step before, 9",
        ),
        ("width_m = 10", "by_channel = [{ up_to_deg = 2, width_m = 30 }, { width_m = 20 }]", 3, "there is no such key"),
        ("width_m = 10", "by_channel = [{ up_to_m = 2 }, { width_m = 20 }]", 3, "has no width_m"),
        ("[[width]]\nwidth_m = 10", "", 0, "there is no [[width]]"),
        ("spacing_m = 0.75", "spacing_m = 0", 8, "is 0; it must be 0.1 or more"),
        ("between_m = 2", "between_m = -2", 18, "is -2; it must be 0.1 or more"),
        ("between_m = 2", "", 15, "zone 2 'Bank': has no between_m"),
        ("between_m = 2", "spacing_m = 2", 15, "gives spacing_m and within_m"),
        ("spacing_m = 0.75", "", 4, "has no spacing_m"),
        ("spacing_m = 0.75", "between_m = 1\nwithin_m = 2", 4, "must be the same"),
        ('"triangular"', '"triangel"', 7, "is no pattern; did you mean triangle?"),
        ('"triangular"', '"none"', 8, "take the spacing out"),
        ('"triangular"', '"none"', 9, "nothing is planted in a zone left in grass"),
        (
            "share = 0.4",
            "share = 0.3",
            9,
            "zone 1 'Edge', plant: the shares of the mix add up to 0.9, not 1 (0.6 + 0.3)",
        ),
        ("percent = 60", "percent = 70", 9, "add up to 1.1, not 1"),
        ("percent = 60", "percent = 60\nshare = 0.6", 11, "share and percent are both given"),
        ("share = 0.4", "share = 40", 14, "for 40 per cent write percent = 40"),
        ("share = 0.4", "", 12, "has no share"),
        ("share = 0.4", "share = -0.1", 14, "must be more than 0"),
        ('"pukio"', '"pukyo"', 10, "is no plant that the farm or farmmap knows; did you mean pūkio?"),
        ('"pukio"', '"zzzzzz"', 10, "is no plant that the farm or farmmap knows"),
        ('"pukio"', '""', 10, "is empty; it is no plant"),
        ('species = "pukio"', "", 9, "has no species"),
        ('"swamp sedge"', '"Carex secta"', 12, "pukio as seedling stands in this zone already"),
        ('"Pole"', '"polle"', 23, "is no stock that can be planted; did you mean pole?"),
        ('"Pole"', '"natural"', 23, "is no stock that can be planted"),
        ('name = "Bank"', 'name = "Edge"', 16, "zone 1 has that name already"),
        ("share = 0.8", "", 15, "does not say how wide it is"),
        ("share = 0.8", "share = 0.8\nwidth_m = 8", 15, "gives both a share of the margin and a width"),
        ("groups_of = 3", "groups_of = 2.5", 20, "it must be a whole number"),
        ("wanted = false", 'wanted = "no"', 25, "must be true or false"),
        ("[fence]", "[fense]", 24, "did you mean fence?"),
        ("[order.rooted_cutting]", "[order.rooted]", 26, "is not known; did you mean rooted cutting?"),
        ('"Jun", 7', '"Juno", 7', 27, 'months 1: the text "Juno" is no month'),
        ('"Jun", 7', '"Jun", 13', 27, "months 2: 13 is no month"),
        ('"Jun", 7', '"Ju", 7', 27, "is no month"),
        ('"Jun", 7', "7, 7", 27, "July stands there twice"),
        ('"Jun", 7', "true, 7", 27, "true is no month"),
        ("grant_percent = 50", "grant_percent = 50\nin_kind_percent = 51", 28, "are 101 % together"),
        ("LSCO = 3", "LSCO = 3\nMānuka = 4", 32, "this is not"),
        ("LSCO = 3", 'LSCO = 3\n"Mānuka" = 4', 32, "manuka has a price already"),
        ("LSCO = 3", "LSCO = -3", 31, "must be 0 or more"),
        ("[prices]", "[rates]\nfence = 3\n[prices]", 31, "did you mean fence_m?"),
        ("[prices]", '[set_backs]\nfence = "grass strip"\nfence_m = 2\n[prices]', 31, "are both given"),
        ("[prices]", '[set_backs]\ncrown_m = "none"\n[prices]', 31, "must be a number"),
        ("[prices]", '[[kind]]\nform = "tree"\n[prices]', 30, "has no name"),
        ("[prices]", '[[kind]]\nname = "x"\nyears = [1, 2]\ncrown_m = [1]\n[prices]', 30, "2 years, 1 crowns and 0"),
        (
            "[prices]",
            "[[kind]]\nname = 'x'\nyears = [2, 1]\ncrown_m = [1,1]\nheight_m=[1,1]\n[prices]",
            32,
            "must rise",
        ),
        ("[prices]", "[[kind]]\nname = 'x'\n[[kind]]\nname='X'\n[prices]", 32, "another kind of the recipe"),
        (
            "width_m = 2",
            "width_m = 2.5",
            6,
            "the zones are 2.5 m wide together, but the margin (line 2) is 10 m at most",
        ),
    ],
)
def test_what_cannot_work_is_told_with_its_line(old, new, line, told):
    assert old in GOOD
    if told == "this is not":  # a bare key with a macron is no TOML
        told = "line 32, column"
    found = faults(GOOD.replace(old, new, 1))
    assert any(at == line and told in words for at, words in found), found


def test_zones_wider_than_the_margin_are_told_with_both_numbers():
    text = "[[width]]\nwidth_m = 10\n[[width]]\nby_channel=[{up_to_m=1,width_m=4},{width_m=11}]\n"
    for name, width in (("A", 6), ("B", 5.5), ("C", 1)):
        text += f'[[zone]]\nname = "{name}"\nwidth_m = {width}\npattern = "none"\n'
    (fault,) = faults(text)
    assert fault[0] == 11
    assert (
        "zone 2 'B', width_m: the zones are 12.5 m wide together, but the margin (line 1) is 11 m at most" in fault[1]
    )
    recipe_from_text(text.replace("5.5", "4"), "r.toml")
    recipe_from_text(text.replace("width_m = 10\n", "to_fence = true\n"), "r.toml")  # nobody knows how wide that is


def test_zones_shares_of_the_width_that_are_too_many_are_told():
    text = "[[width]]\nwidth_m = 10\n" + "".join(
        f"[[zone]]\nname='{n}'\npercent={n}\npattern='none'\n" for n in (50, 40, 20)
    )
    (fault,) = faults(text)
    assert fault[0] == 13
    assert "the zones' shares of the margin's width add up to 1.1" in fault[1]


def test_faults_of_a_single_named_table_are_told_by_its_name():
    text = "[[width]]\nwidth_m = 10\n[zone]\nname = 'Bank'\n[kind]\nname = 'Elder'\nyears = [2]\n"
    told = faults(text)
    assert any(line == 3 and words.startswith("line 3, zone 1 'Bank'") for line, words in told)
    assert any(line == 5 and words.startswith("line 5, kind 'Elder'") for line, words in told)


def test_a_plant_that_is_no_table_is_told_once():
    text = "[[width]]\nwidth_m = 10\n[[zone]]\nspacing_m = 2\nplant = ['manuka', 'totara']\n"
    assert [words for _, words in faults(text)] == [
        f'line 5, zone 1, plant {place}: must be a table, not the text "{name}"; see docs/recipes.md'
        for place, name in ((1, "manuka"), (2, "totara"))
    ]


def test_all_faults_are_told_at_once_by_line():
    text = GOOD.replace("0.75", "0").replace('"pukio"', '"pukyo"').replace("share = 0.4", "share = 0.3") + "x = 1\n"
    lines = [line for line, _ in faults(text)]
    assert lines == sorted(lines) == [8, 9, 10, 32]


def test_very_many_faults_are_cut_short_in_words_only():
    with pytest.raises(RecipeError) as error:
        recipe_from_text(GOOD + "\n".join(f"a{n} = 1" for n in range(100)), "r.toml")
    assert len(error.value.faults) == 100
    assert str(error.value).count("\n") == 41
    assert str(error.value).endswith("and 60 more")


@pytest.mark.parametrize(
    ("text", "line", "told"),
    [
        ("a = ", 1, "the file ends before this is complete"),
        ("a = b\n", 1, "what stands after ="),
        ("\n\na = [1,\n", 3, "is a bracket or a text not closed?"),
        ("x = 1\nx = 2\ny = 3", 2, "this key stands there twice"),
        ("x = 1\nx = 2", 2, "Cannot overwrite a value"),
        ("x\n", 1, "write key = value"),
        ("title = Ten\n", 1, "nor a text in quotes"),
        ("a = 1 2\n", 1, "texts go in quotes"),
        ("[fence]\n[fence]\n", 2, "this part stands there already; put both together"),
        ("[zone]\n[[zone]]\n", 2, "it was begun above in another way"),
        ("[[zone.plant]]\nspecies = 'x'\n[[zone]]\n", 3, "write each [[zone]] before its own [[zone.plant]]"),
        ('a = "b\nc = 1\n', 1, "the quotes are not closed on this line"),
        ('a = "b\x07"\n', 1, "this character cannot stand here"),
        ("x = {a = 1}\nx.b = 2\n", 2, "as TOML reads it"),
        ("seed = 3000000000", 1, "it must be 0 or more, and 2147483647 at most"),
        ("a = " + "[" * 100_000, 0, "brackets of no sense"),
        ("a = " + "9" * 10_000, 0, "a number or brackets of no sense"),
        ("zone = 3\nwidth = 4", 1, "zone: must be a table, not 3"),
        ("zone = [3]\n[[width]]\nwidth_m=3", 1, "zone 1: must be a table, not 3"),
        ("zone = []\nwidth = []", 1, "there is no [[zone]]"),
        ("zone = []\n" * 1 + "width = [" + "{width_m=1}," * 201 + "]", 2, "there are 201"),
        (f"title = '{'x' * 3000}'", 1, "has 3000 letters"),
        ("order = 1", 1, "order: must be a table"),
        ("rates = 1\n", 1, "rates: must be a table"),
        ("prices = 1\n", 1, "prices: must be a table"),
        ("shares = 1\n", 1, "shares: must be a table"),
        ("set_backs = 1\n", 1, "set_backs: must be a table"),
        ("[set_backs]\nsource = 1\n", 2, "source: must be a table"),
        ("kind = 1\n", 1, "kind: must be a table"),
        ("fence.post_m = {}\n", 1, "must be a number, not a table"),
        ("order.pole = 1\n", 1, "pole: must be a table"),
        ("[order]\npole = {}\nPole = {}\n", 3, "'pole' stands there twice"),
    ],
)
def test_what_is_no_recipe_at_all(text, line, told):
    found = faults(text)
    assert any(at == line and told in words for at, words in found), found


def test_the_farms_species_and_own_rules_are_known(farm, tmp_path):
    (tmp_path / "margin_rules.csv").write_text("rule_set,width_m\nMy council,7\n", encoding="utf-8")
    path = tmp_path / "own.toml"
    text = GOOD.replace("width_m = 10", 'rule_set = "my council"').replace("manuka", "tota").replace("LSCO", "TOTA")
    path.write_text(text, encoding="utf-8-sig")
    recipe = read_recipe(path, plant_kinds(farm).find)
    assert recipe.widths[0].rule_set == "My council"
    (brought,) = recipe.rule_sets
    assert (brought.name, brought.own, brought.rows[0].width_m) == ("My council", True, 7.0)
    assert same(recipe_from_text(recipe_as_text(recipe), "kept", plant_kinds(farm).find), recipe)  # without the file
    assert recipe.zones[1].mix[0].species == "tota"
    assert faults(text.replace("my council", "NZ stock exclusion"))[0][0] == 22  # without the farm nobody knows TOTA


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        (None, "there is no file"),
        ("folder", "is a folder"),
        (b"", "is empty"),
        (b"\n  \n", "is empty"),
        (GOOD.encode("utf-16"), "was saved as UTF-16"),
        (b"\xff\xfe\x00\x00", "was saved as UTF-16"),
        (b"a = 1\nb = '\xe9'\n", "line 2 of"),
        (b"a\0b", "is no text in UTF-8"),
        (GOOD.encode("utf-16-le"), "Save it as UTF-8 from the editor"),
        (120_000_000, "has 120 MB"),
    ],
)
def test_files_that_are_no_recipe(tmp_path, raw, told):
    path = tmp_path / "r.toml"
    if raw == "folder":
        path.mkdir()
    elif isinstance(raw, int):
        path.write_bytes(b"# x")
        os.truncate(path, raw)  # all the rest a hole: the disk is spared
    elif raw is not None:
        path.write_bytes(raw)
    with pytest.raises(BadInput, match=re.escape(told)) as error:
        read_recipe(path)
    assert "r.toml" in str(error.value)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with a name are there on POSIX only")
def test_a_pipe_is_refused_rather_than_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(BadInput, match="no ordinary file"):
        read_recipe(tmp_path / "pipe")


def test_a_name_that_no_file_can_have():
    with pytest.raises(BadInput):
        read_recipe(Path("a\0b"))
    with pytest.raises(BadInput):
        read_recipe(Path("x" * 5000))


def test_there_are_three_examples_for_the_sample_farm():
    assert len(SAMPLES) == 3
    known = plant_kinds(read_farm(sample_farm_path())).find
    patterns = set()
    for path in SAMPLES:
        recipe = read_recipe(path, known)
        assert same(recipe, recipe_from_text(recipe_as_text(recipe), "again", known))
        patterns |= {zone.pattern for zone in recipe.zones}
        assert set(recipe.rates) <= set(UNITS)
        assert {kin.stock for zone in recipe.zones for kin in zone.mix} == set(recipe.orders)
    assert patterns == set(Pattern)


def test_published_set_backs_are_those_that_were_read():
    choices = {(one.thing, one.choice): one.distance_m for one in set_back_choices()}
    assert choices["fence", "grass strip"] == 1
    volts = ("NZ 230/400 V or insulated", "NZ 11 kV", "NZ 33 kV", "NZ 50-66 kV", "NZ over 66 kV")
    assert [choices["power_line", name] for name in volts] == [0.5, 1.6, 2.5, 3, 4]
    assert choices["building", "Ireland, dwelling"] == 60
    assert len(choices) == len(set_back_choices())
    assert all(one.source and one.place and one.remark for one in set_back_choices())
    assert not any(thing == "drain" for thing, _ in choices)  # no published figure was read
