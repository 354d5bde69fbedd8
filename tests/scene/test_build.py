import datetime as dt

import numpy as np
import pytest
import shapely

from farmmap.errors import BadInput
from farmmap.farm.farm import new_farm, shaped
from farmmap.farm.schema import TABLES
from farmmap.figures.margins import margins
from farmmap.scene.build import build_scene
from farmmap.scene.scene import LAYER_NAMES, AreaLayer, Chosen, CrownLayer, LabelLayer, LineLayer, MarkLayer, TreeLayer
from farmmap.scene.styles import theme, with_text
from tests.place import EAST, NORTH
from tests.scene.made_farm import made_farm

ON = dt.date(2025, 1, 1)


def named(scene, name, kind=object):
    return [layer for layer in scene.layers if layer.name == name and isinstance(layer, kind)]


def test_everything_that_the_farm_has_is_there(hill_farm, hill_scene):
    assert {layer.name for layer in hill_scene.layers} == {*LAYER_NAMES, "ground"} - {
        "backdrops",
        "relief",
        "contours",
        "plots",
        "photo_points",
    }
    assert hill_scene.bounds == hill_farm.bounds()
    blocks = sorted(int(one) for layer in named(hill_scene, "blocks") for one in layer.ids)
    assert blocks == hill_farm.blocks.index.tolist()
    assert len(named(hill_scene, "margins")[0].ids) >= len(margins(hill_farm))


def test_planned_and_existing_are_drawn_apart(hill_farm, hill_scene):
    existing, planned = named(hill_scene, "blocks", AreaLayer)
    stage = hill_farm.blocks["stage"]
    assert set(stage.loc[existing.ids]) == {"existing"}
    assert set(stage.loc[planned.ids]) == {"planned"}
    assert planned.style.dash
    assert not planned.style.fill
    assert {bool(layer.style.dash) for layer in named(hill_scene, "fences", LineLayer)} == {True, False}


@pytest.mark.parametrize("name", LAYER_NAMES)
def test_a_hidden_layer_is_gone_and_its_key_entry_says_so(hill_farm, name):
    scene = build_scene(hill_farm, ON, hidden=frozenset({name}))
    assert not named(scene, name)
    assert all(entry.shown != (entry.layer == name) for entry in scene.key if not entry.layer.startswith("species:"))


def test_hidden_trees_hide_their_species_in_the_key_and_their_tags(hill_farm):
    scene = build_scene(hill_farm, ON, hidden=frozenset({"trees"}))
    assert not any(entry.shown for entry in scene.key if entry.layer.startswith("species:"))
    (labels,) = named(scene, "labels", LabelLayer)
    assert labels.tagged is None


def test_names_of_hidden_layers_are_not_written(hill_farm):
    (labels,) = named(build_scene(hill_farm, ON, hidden=frozenset({"creeks"})), "labels")
    assert not {"Sedge Creek", "Rush Gully"} & {wording.text for wording in labels.wordings}


def test_the_lowest_and_the_highest_layers(hill_scene):
    names = [layer.name for layer in hill_scene.layers]
    assert names[0] == "ground"
    assert names[-1] == "labels"
    assert names.index("blocks") < names.index("creeks") < names.index("crowns") < names.index("trees")


def test_gates_and_troughs_of_a_plan_have_signs_of_their_own_and_other_notes_do_not(farm):
    headings = ["Gate, 4 m", "Trough", "Gate sags", "Slip"]
    places = [shapely.Point(EAST + x, NORTH) for x in range(4)]
    values = {"heading": headings, "plan": ["Sedge", "Sedge", "", "Sedge"], "geometry": places}
    scene = build_scene(farm.with_tables(notes=shaped(TABLES["notes"], values, np.arange(1, 5), farm.grid)), ON)
    drawn = {layer.style.shape: layer.ids.tolist() for layer in named(scene, "notes", MarkLayer)}
    assert drawn == {"note": [3, 4], "gate": [1], "trough": [2]}
    in_key = {entry.words: (entry.count, entry.sample.shape) for entry in scene.key if entry.layer == "notes"}
    assert in_key == {"note": (2, "note"), "gate": (1, "gate"), "trough": (1, "trough")}


def test_creeks_run_with_the_water():
    farm = made_farm(1, 0)
    against = farm.creeks.assign(flows="against")
    one = build_scene(farm, ON)
    other = build_scene(farm.with_tables(creeks=against), ON, margins=())
    assert named(one, "creeks")[0].shapes[0].coords[0] == named(other, "creeks")[0].shapes[0].coords[-1]
    assert named(one, "creeks")[0].widths_m.tolist() == [4.0, 1.5]


def test_power_lines_are_lined_with_the_ground_kept_clear(hill_farm, hill_scene):
    clear = next(layer for layer in named(hill_scene, "hazards", AreaLayer) if not layer.style.line)
    assert clear.ids.tolist() == [1]
    wide = clear.shapes[0].area / hill_farm.hazards.geometry.iloc[0].length
    assert wide == pytest.approx(24.0)
    assert named(hill_scene, "hazards", MarkLayer)[0].ids.tolist() == [3]


@pytest.mark.parametrize(
    ("chosen", "kind"),
    [(Chosen("tree", 5), MarkLayer), (Chosen("block", 3), AreaLayer), (Chosen("margin", 1), AreaLayer)],
)
def test_what_is_chosen_is_painted_last_and_apart(hill_farm, chosen, kind):
    scene = build_scene(hill_farm, ON, chosen=chosen)
    assert [type(layer) for layer in scene.chosen] == [kind]
    assert set(scene.chosen[0].ids.tolist()) == {chosen.id}


@pytest.mark.parametrize(
    "chosen", [Chosen("tree", 10**6), Chosen("block", 99), Chosen("margin", 99), Chosen("fence", 1)]
)
def test_what_is_not_there_is_not_picked_out(hill_farm, chosen):
    assert build_scene(hill_farm, ON, chosen=chosen).chosen == ()


def test_an_empty_farm_has_an_empty_scene():
    scene = build_scene(new_farm("Pipit Downs", "EPSG:2193"), ON)
    assert scene.bounds is None
    assert scene.key == ()
    assert [layer.name for layer in scene.layers] == ["labels"]


def test_a_theme_may_be_given_whole_and_an_unknown_one_is_refused(hill_farm):
    look = with_text(theme("paper"), 1.5)
    assert build_scene(hill_farm, ON, theme=look).theme is look
    with pytest.raises(BadInput, match="sepia"):
        build_scene(hill_farm, ON, theme="sepia")


def test_the_key_counts_living_trees_by_species(hill_farm, hill_scene):
    counts = {entry.layer: entry.count for entry in hill_scene.key if entry.layer.startswith("species:")}
    trees = hill_farm.trees
    living = trees[(trees["status"] == "alive") & (trees["stage"] == "existing")]
    assert counts == {f"species:{code}": count for code, count in living["species"].value_counts().items()}
    words = [entry.words for entry in hill_scene.key]
    assert {
        "(not measured)",
        "planned tree",
        "dead or felled",
        "block, planned",
        "fence, planned",
        "power line",
    } <= set(words)
    assert len(words) == len(set(words))


def test_a_hazard_kind_drawn_as_line_area_and_point_is_in_the_key_each_way():
    farm = new_farm("Pipit Downs", "EPSG:2193")
    shapes = [shapely.Point(0, 0), shapely.LineString([(0, 0), (9, 9)]), shapely.box(0, 0, 1, 1)] * 5
    kinds = np.repeat(["power line", "building", "pipeline", "drain", "other"], 3).tolist()
    hazards = shaped(TABLES["hazards"], {"geometry": shapes, "kind": kinds}, np.arange(1, 16), farm.grid)
    scene = build_scene(farm.with_tables(hazards=hazards), ON)
    assert sum(entry.layer == "hazards" for entry in scene.key) == 15
    planned = farm.with_tables(hazards=hazards.assign(stage="planned"))
    drawn = [layer for layer in build_scene(planned, ON).layers if isinstance(layer, LineLayer)]
    assert len(drawn) == 5
    assert all(layer.style.dash for layer in drawn)


def test_layers_of_trees_share_one_set_of_arrays(hill_scene):
    (trees,), (crowns,) = named(hill_scene, "trees", TreeLayer), named(hill_scene, "crowns", CrownLayer)
    assert crowns.trees is trees
