"""A thinning of a block: crop, what goes by each rule, what stands then, and what is said."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, box

from farmmap.errors import BadInput
from farmmap.farm.farm import shaped
from farmmap.farm.schema import TABLES
from farmmap.figures.blocks import block_figures
from farmmap.plans.thinning.final_stocking import LEAST_SHARE
from farmmap.plans.thinning.rule import RULES, CropRule, ThinningRule, rule_words
from farmmap.plans.thinning.stand import block_trees
from farmmap.plans.thinning.thinning import thinning, thinning_as_marked
from farmmap.plans.thinning.worth import scores, usual_weights, weights_with, worths
from tests.place import EAST, NORTH
from tests.plans.thinning.stands import planted, stand_farm

DAY = dt.date(2021, 1, 1)
CROP = CropRule(target_cm=40)


def with_rows(farm, table, **values):
    count = len(next(iter(values.values())))
    return farm.with_tables(**{table: shaped(TABLES[table], values, np.arange(1, count + 1), farm.grid)})


@pytest.fixture(scope="module")
def rows_farm():
    x, y, dbh = planted(16, 22)
    height = np.round(dbh * 0.55 + 4, 1)
    draw = np.random.default_rng(3)
    return stand_farm(
        x, y, dbh, side=67.0, height=height, form=draw.choice(["good", "fair", "poor", ""], len(x)).tolist()
    )


def away(farm, made, which):
    trees = block_trees(farm, 1, DAY)
    some = made.mark == which
    at = np.column_stack([trees.east_m[some], trees.north_m[some]])
    gap = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1))
    np.fill_diagonal(gap, np.inf)
    return gap.min()


def test_crop_keeps_its_distance_and_comes_to_the_final_stocking(rows_farm) -> None:
    made = thinning(rows_farm, 1, ThinningRule("none"), DAY, CROP)
    trees = block_trees(rows_farm, 1, DAY)
    assert made.crop.final.stems_per_ha == pytest.approx(1e4 / 8.0**2)  # crowns of 0.2 × 40 cm
    assert made.crop.final.least_m == pytest.approx(LEAST_SHARE * 8.0)
    wanted = made.crop.final.stems_per_ha * trees.net_ha
    assert 0.9 * wanted <= len(made.crop_ids) <= wanted + 1
    assert away(rows_farm, made, "crop") >= made.crop.least_m * (1 - 1e-6)
    assert made.crop.least_m >= made.crop.final.least_m
    assert not (trees.forms[made.mark == "crop"] == "poor").any()
    assert made.crop.choice.bound >= made.crop.choice.worth
    assert made.crop.worth[made.mark == "crop"].mean() > made.crop.worth[made.crop.worth > 0].mean()


def test_distance_and_stocking_as_given(rows_farm) -> None:
    net = block_trees(rows_farm, 1, DAY).net_ha
    wide = thinning(rows_farm, 1, ThinningRule("none"), DAY, CropRule(stems_per_ha=300, least_m=7.0))
    assert away(rows_farm, wide, "crop") >= 7.0 * (1 - 1e-6)
    assert any("would make the final stocking" in note for note in wide.notes)
    free = thinning(rows_farm, 1, ThinningRule("none"), DAY, CropRule(stems_per_ha=100, least_m=0.0))
    assert 0.9 * 100 * net <= len(free.crop_ids) <= 100 * net + 1
    assert away(rows_farm, free, "crop") > 5.0  # even, though no distance was asked for


def test_no_rule_takes_a_crop_tree_or_one_twice(rows_farm) -> None:
    for kind in RULES:
        made = thinning(rows_farm, 1, ThinningRule(kind), DAY, CROP)
        assert set(made.crop_ids).isdisjoint(made.take_ids)
        before, taken, after = made.table.rows
        assert before["stems"] == taken["stems"] + after["stems"] == len(made)
        assert before["basal_area_m2"] == pytest.approx(taken["basal_area_m2"] + after["basal_area_m2"])
        assert before["crown_cover_percent"] == pytest.approx(
            taken["crown_cover_percent"] + after["crown_cover_percent"], abs=1e-6
        )


def test_before_is_what_the_block_has(rows_farm) -> None:
    before = thinning(rows_farm, 1, ThinningRule("none"), DAY).table.rows[0]
    figures = block_figures(rows_farm, DAY).rows[0]
    for key in ("stems", "stems_per_ha", "basal_area_m2_per_ha", "qmd_cm", "mean_dbh_cm", "crown_cover_percent"):
        assert before[key] == pytest.approx(figures[key])


def test_after_is_what_the_block_will_have(rows_farm) -> None:
    from farmmap.plans.thinning.marks import felled_as_marked, marked

    made = thinning(rows_farm, 1, ThinningRule("basal-area", basal_area_m2_per_ha=15), DAY, CROP)
    farm = marked(rows_farm, made).edit.apply(rows_farm)
    farm = felled_as_marked(farm, 1, DAY).edit.apply(farm)
    figures, after = block_figures(farm, DAY).rows[0], made.table.rows[2]
    for key in ("stems", "stems_per_ha", "basal_area_m2_per_ha", "qmd_cm", "crown_cover_percent"):
        assert after[key] == pytest.approx(figures[key])


def test_from_below_takes_the_thinnest(rows_farm) -> None:
    made = thinning(rows_farm, 1, ThinningRule("below", percent=20), DAY)
    trees = block_trees(rows_farm, 1, DAY)
    goes = made.mark == "take"
    assert goes.sum() == int(0.2 * len(trees))
    assert trees.dbh_cm[goes].max() <= trees.dbh_cm[~goes].min()
    assert made.table.rows[1]["qmd_to_before"] < 1 < made.table.rows[1]["thinning_ratio"]
    thin = thinning(rows_farm, 1, ThinningRule("below", under_cm=20), DAY)
    assert ((thin.mark == "take") == (trees.dbh_cm < 20)).all()


def test_release_by_radius_frees_each_crop_tree(rows_farm) -> None:
    made = thinning(rows_farm, 1, ThinningRule("release-radius", radius_m=4.1), DAY, CROP)
    trees = block_trees(rows_farm, 1, DAY)
    at = np.column_stack([trees.east_m, trees.north_m])
    gap = np.hypot(*(at[:, None] - at[made.mark == "crop"][None]).transpose(2, 0, 1)).min(axis=1)
    others = made.mark != "crop"
    assert (gap[made.mark == "take"] <= 4.1).all()
    assert (gap[others & (made.mark == "")] > 4.1).all()
    same = thinning(rows_farm, 1, ThinningRule("release-radius", radius_m=4.0), DAY, CROP)
    by_crown = thinning(rows_farm, 1, ThinningRule("release-radius"), DAY, CROP)  # half of 0.2 × 40 cm
    assert (same.mark == by_crown.mark).all()


def test_release_by_contact_takes_crowns_that_touch(rows_farm) -> None:
    trees = block_trees(rows_farm, 1, DAY)
    at = np.column_stack([trees.east_m, trees.north_m])
    gap = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1))
    reach = (trees.crown_m[:, None] + trees.crown_m[None]) / 2
    for room in (0.0, 1.5):
        made = thinning(rows_farm, 1, ThinningRule("release-contact", gap_m=room), DAY, CROP)
        crop = made.mark == "crop"
        touched = (gap[:, crop] < reach[:, crop] + room).any(axis=1) & ~crop
        assert ((made.mark == "take") == touched).all()
    few = thinning(rows_farm, 1, ThinningRule("release-contact", least_share_percent=90), DAY, CROP)
    assert 0 < len(few.take_ids) < len(made.take_ids)


def test_down_to_a_basal_area_and_to_a_stocking(rows_farm) -> None:
    made = thinning(rows_farm, 1, ThinningRule("basal-area", basal_area_m2_per_ha=15), DAY, CROP)
    assert made.table.rows[2]["basal_area_m2_per_ha"] == pytest.approx(15, abs=0.1)
    made = thinning(rows_farm, 1, ThinningRule("stocking", stems_per_ha=300), DAY, CROP)
    assert made.table.rows[2]["stems"] == round(300 * block_trees(rows_farm, 1, DAY).net_ha)
    final = thinning(rows_farm, 1, ThinningRule("stocking"), DAY, CROP)
    assert final.table.rows[2]["stems"] == pytest.approx(len(final.crop_ids), rel=0.1)
    no_crop = thinning(rows_farm, 1, ThinningRule("stocking"), DAY)  # its final stocking is that of 60 cm
    assert 0 < no_crop.table.rows[2]["stems"] < final.table.rows[2]["stems"]
    less = thinning(rows_farm, 1, ThinningRule("stocking", stems_per_ha=5000), DAY, CROP)
    assert not len(less.take_ids)
    assert "There are no more than 5000 stems/ha now: nothing goes." in less.notes
    bare = thinning(rows_farm, 1, ThinningRule("basal-area", basal_area_m2_per_ha=0.5), DAY, CROP)
    assert set(bare.mark) == {"crop", "take"}
    assert any("The crop trees alone hold" in note for note in bare.notes)
    one = thinning(stand_farm([20, 80], [20, 80], [60, 20]), 1, ThinningRule("basal-area", basal_area_m2_per_ha=0.2))
    assert one.mark.tolist() == ["", "take"]  # without the thicker one too little would be left
    assert not any("crop trees alone" in note for note in one.notes)


def test_a_stocking_is_left_evenly(rows_farm) -> None:
    """Where the poorest went one by one with no look at where they stand, twice as large holes would open."""
    from scipy.spatial import cKDTree

    made = thinning(rows_farm, 1, ThinningRule("stocking", stems_per_ha=300), DAY, CROP)
    trees = block_trees(rows_farm, 1, DAY)
    at = np.column_stack([trees.east_m, trees.north_m])
    stays = made.mark != "take"
    nearest = cKDTree(at[stays]).query(at[stays], k=2)[0][:, 1]
    draw = np.random.default_rng(1)
    chance = [cKDTree(at[some]).query(at[some], k=2)[0][:, 1].mean() for some in
              (draw.permutation(len(at))[: stays.sum()] for _ in range(20))]  # fmt: skip
    assert nearest.mean() > 1.1 * np.mean(chance)


def test_every_nth_row_goes(rows_farm) -> None:
    made = thinning(rows_farm, 1, ThinningRule("rows", every=4, first_row=2), DAY)
    trees = block_trees(rows_farm, 1, DAY)
    column = np.rint((trees.x - EAST - 3) / 4.0).astype(int)
    assert ((made.mark == "take") == (column % 4 == 1)).all()
    assert made.rows.apart_m == pytest.approx(4.0, abs=0.02)
    kept = thinning(rows_farm, 1, ThinningRule("rows", every=4, first_row=2), DAY, CROP)
    assert not (column[kept.mark == "crop"] % 4 == 1).any()  # no crop is chosen in rows that go


def test_scattered_trees_have_no_rows() -> None:
    draw = np.random.default_rng(2)
    farm = stand_farm(*draw.random((2, 80)) * 98 + 1, draw.random(80) * 20 + 10)
    made = thinning(farm, 1, ThinningRule("rows"), DAY, CROP)
    assert not len(made.take_ids)
    assert any("No planted rows" in note for note in made.notes)


def test_crop_trees_marked_by_hand_stay_crop(rows_farm) -> None:
    from farmmap.plans.thinning.marks import mark_set

    ids = [1, 2, 3]  # side by side, closer than any least distance
    farm = mark_set(rows_farm, ids, "crop").edit.apply(rows_farm)
    made = thinning(farm, 1, ThinningRule("below"), DAY, CROP)
    assert set(ids) <= set(made.crop_ids.tolist())
    free = thinning(farm, 1, ThinningRule("below"), DAY, CropRule(target_cm=40, keep_marked=False))
    assert not set(ids) <= set(free.crop_ids.tolist())
    many = thinning(farm, 1, ThinningRule("below"), DAY, CropRule(stems_per_ha=3))
    assert sorted(many.crop_ids.tolist()) == ids  # more than the final stocking already: none is chosen besides
    assert any(note.startswith("3 crop trees, all of them marked as crop before; 1 would") for note in many.notes)
    assert any("3 were marked as crop before and stay so, the others keep at least" in note for note in made.notes)
    as_marked = thinning(farm, 1, ThinningRule("below"), DAY)
    assert as_marked.crop_ids.tolist() == ids


@settings(max_examples=40)
@given(st.integers(0, 2**32 - 1), st.sampled_from(list(RULES)), st.integers(0, 40))
def test_any_stand_and_rule(seed, kind, count) -> None:
    """Trees anywhere, some at one place, some not measured, of known and unknown species and form."""
    draw = np.random.default_rng(seed)
    x, y = np.round(draw.random((2, count)) * 98, draw.integers(0, 3)) + 1
    dbh = np.where(draw.random(count) < 0.7, draw.random(count) * 60, np.nan)
    species = draw.choice(["TOTA", "REDW", "", "XYZ"], count).tolist()
    farm = stand_farm(x, y, dbh, species=species, form=draw.choice(["good", "fair", "poor", ""], count).tolist(),
                      mark=draw.choice(["", "crop", "take"], count).tolist())  # fmt: skip
    made = thinning(farm, 1, ThinningRule(kind), DAY, CropRule() if draw.random() < 0.7 else None)
    assert len(made) == count
    assert set(made.mark) <= {"", "crop", "take"}
    before, taken, after = made.table.rows
    assert before["stems"] == taken["stems"] + after["stems"]
    assert made.table.as_text()
    assert made.table.as_csv()
    assert made.table.as_json()
    assert len(set(made.cautions)) == len(made.cautions)
    assert rule_words(ThinningRule(kind))


@pytest.mark.parametrize("kind", list(RULES))
def test_strange_blocks(kind) -> None:
    nobody = stand_farm([], [])
    made = thinning(nobody, 1, ThinningRule(kind), DAY, CROP)
    assert not len(made)
    assert any("No trees stand" in note for note in made.notes)
    alone = thinning(stand_farm([50], [50], [30]), 1, ThinningRule(kind), DAY, CROP)
    assert alone.mark.tolist() == ["crop"]
    heap = thinning(stand_farm([50] * 20, [50] * 20, [30] * 20), 1, ThinningRule(kind), DAY, CROP)
    assert (heap.mark == "crop").sum() == 1
    bare = thinning(stand_farm(*planted()[:2], species=""), 1, ThinningRule(kind), DAY, CROP)
    assert bare.table.rows[0]["basal_area_m2"] is None
    assert any("Without a diameter" in note for note in bare.notes)
    planned = nobody.with_tables(blocks=nobody.blocks.assign(stage="planned"))
    assert thinning(planned, 1, ThinningRule(kind), DAY, CROP).notes == (
        "Stand is only planned: no trees stand in it yet.",
    )


def test_what_cannot_be_meant_is_refused(rows_farm) -> None:
    with pytest.raises(BadInput, match="no rule 'wild'"):
        ThinningRule("wild")
    with pytest.raises(BadInput, match="not between 0 and 100 %"):
        ThinningRule("below", percent=120)
    with pytest.raises(BadInput, match="target diameter"):
        CropRule(target_cm=0)
    with pytest.raises(BadInput, match="how much species"):
        CropRule(species={"TOTA": 3})
    with pytest.raises(BadInput, match="nothing called 'luck'"):
        thinning(rows_farm, 1, ThinningRule(), DAY, CropRule(weights={"luck": 1}))
    with pytest.raises(BadInput, match="all weights are 0"):
        weights_with(dict.fromkeys(usual_weights(), 0.0))
    with pytest.raises(BadInput, match="not on the farm"):
        thinning(rows_farm, 99, ThinningRule(), DAY)


def test_what_counts_for_a_crop_tree() -> None:
    x, y = np.array([20.0, 24, 60, 64, 80, 20]), np.array([20.0, 20, 20, 20, 80, 60])
    farm = stand_farm(x, y, [30, 20, 40, np.nan, 25, 25], form=["good", "poor", "fair", "", "good", "good"],
                      species=["TOTA", "REDW", "TOTA", "TOTA", "TOTA", "REDW"])  # fmt: skip
    farm = with_rows(farm, "targets", species=["TOTA"], dbh_cm=[50.0])
    farm = with_rows(farm, "hazards", name=["line"], kind=["power line"], clear_m=[4.0],
                     geometry=[LineString([(EAST + 80, NORTH), (EAST + 80, NORTH + 100)])])  # fmt: skip
    trees = block_trees(farm, 1, DAY)
    found = scores(trees, {})
    assert found["form"].tolist() == [1.0, 0.0, 0.55, 0.5, 1.0, 1.0]
    assert 0.8 < found["diameter"][2] <= 1.0
    assert found["diameter"][2] > found["diameter"][0] > found["diameter"][1]
    assert found["species"].tolist() == [1.0, 0.5, 1.0, 1.0, 1.0, 0.5]
    assert found["dominance"][0] > found["dominance"][1]
    assert found["clear"][4] == 0.0
    assert found["clear"][0] == 1.0
    assert scores(trees, {"REDW": 0.9})["species"][1] == 0.9
    only_form = worths(trees, weights_with({key: 0.0 for key in usual_weights() if key != "form"}))
    assert only_form[0] == 1.0
    assert 0 < only_form[1] < 0.1


def test_unwanted_species_are_never_crop() -> None:
    x, y, dbh = planted()
    species = ["TOTA", "REDW"] * (len(x) // 2)
    farm = stand_farm(x, y, dbh, species=species)
    made = thinning(farm, 1, ThinningRule("none"), DAY, CropRule(target_cm=40, species={"REDW": 0.0}))
    assert len(made.crop_ids)
    assert set(farm.trees["species"].loc[made.crop_ids]) == {"TOTA"}


def test_cautions(rows_farm) -> None:
    heavy = thinning(rows_farm, 1, ThinningRule("below", percent=70), DAY)
    said = " ".join(heavy.cautions)
    assert "of the basal area goes at once" in said
    assert "native species" in said
    assert "trained people" in said
    light = thinning(rows_farm, 1, ThinningRule("below", percent=3), DAY)
    assert "goes at once" not in " ".join(light.cautions)
    assert thinning(rows_farm, 1, ThinningRule("none"), DAY, CROP).cautions == ()
    line = with_rows(rows_farm, "hazards", name=["line"], kind=["power line"], clear_m=[4.0],
                     geometry=[LineString([(EAST, NORTH + 3), (EAST + 100, NORTH + 3)])])  # fmt: skip
    assert "power line" in " ".join(thinning(line, 1, ThinningRule("below", percent=50), DAY).cautions)
    creek = with_rows(rows_farm, "creeks", name=["Creek"], channel_m=[2.0],
                      geometry=[LineString([(EAST + 20, NORTH - 10), (EAST + 20, NORTH + 110)])])  # fmt: skip
    creek = with_rows(creek, "boundary", name=["Farm"], geometry=[box(EAST - 50, NORTH - 50, EAST + 150, NORTH + 150)])
    assert "creek margin" in " ".join(thinning(creek, 1, ThinningRule("below", percent=50), DAY).cautions)


def test_a_track_through_a_block_is_no_edge(rows_farm) -> None:
    """All trees near the track go, and none near the edge: the edge still shelters the rest."""
    track = with_rows(rows_farm, "tracks", name=["track"], width_m=[5.0],
                      geometry=[LineString([(EAST + 33, NORTH - 10), (EAST + 33, NORTH + 90)])])  # fmt: skip
    trees = block_trees(track, 1, DAY)
    assert trees.net_ha < block_trees(rows_farm, 1, DAY).net_ha
    middle = EAST + 33.0
    mark = np.where(np.abs(rows_farm.trees["x"].to_numpy() - middle) < 10, "take", "")
    farm = track.with_tables(trees=track.trees.assign(mark=mark.tolist()))
    assert not any("of the edge go" in caution for caution in thinning_as_marked(farm, 1, DAY).cautions)
    mark = np.where(np.abs(rows_farm.trees["x"].to_numpy() - middle) > 23, "take", "")
    farm = track.with_tables(trees=track.trees.assign(mark=mark.tolist()))
    assert any("of the edge go" in caution for caution in thinning_as_marked(farm, 1, DAY).cautions)


def test_slender_trees_are_cautioned() -> None:
    x, y, dbh = planted(10, 10)
    farm = stand_farm(x, y, dbh, height=dbh * 1.1)
    assert "very slender" in " ".join(thinning(farm, 1, ThinningRule("below"), DAY).cautions)


def test_other_marks_and_all_that_follows(rows_farm) -> None:
    made = thinning(rows_farm, 1, ThinningRule("below", percent=20), DAY, CROP)
    mark = made.mark.copy()
    mark[np.flatnonzero(mark == "take")[:10]] = ""
    changed = thinning_as_marked(rows_farm.with_tables(trees=rows_farm.trees.assign(mark=mark)), 1, DAY)
    assert changed.table.rows[1]["stems"] == made.table.rows[1]["stems"] - 10
    assert (made.mark != mark).sum() == 10
