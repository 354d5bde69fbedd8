"""The grower's own lines: each change is one edit that can be taken back, and what cannot be used is refused."""

from __future__ import annotations

import numpy as np
import pytest

from farmmap.editing.proposed import Proposed
from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.plans.harvest.own_lines import general_products_taken, line_added, line_changed, line_removed
from farmmap.plans.harvest.product_list import general_products, product_list
from tests.plans.harvest.grown import with_rows


def carried_out(farm: Farm, proposed: Proposed, table: str) -> Farm:
    """Do an edit, and hold that undoing it gives the table as it was."""
    after = proposed.edit.apply(farm)
    before = proposed.edit.turned_round().apply(after).tables[table]
    assert before.equals(farm.tables[table])
    return after


def test_a_product_is_put_in_changed_and_taken_away(farm: Farm) -> None:
    typed = {"name": "sawlog", "kind": "sawlog", "small_end_cm": "30", "length_m": "3,6", "per": "m3", "price": ""}
    proposed = line_added(farm, "products", typed)
    assert proposed.edit.name == "Add product sawlog"
    one = carried_out(farm, proposed, "products")
    product = product_list(one).products[0]
    assert (product.small_end_cm, product.length_m, product.has_price, product.is_own) == (30.0, 3.6, False, True)
    changed = line_changed(one, "products", 1, {"price": "120"})
    assert changed.edit.name == "Change price of product sawlog"
    two = carried_out(one, changed, "products")
    assert product_list(two).products[0].price == 120.0
    gone = line_removed(two, "products", 1)
    assert gone.edit.name == "Take away product sawlog"
    assert not len(carried_out(two, gone, "products").tables["products"])


def test_a_stem_volume_is_put_in_and_taken_away(farm: Farm) -> None:
    proposed = line_added(farm, "volumes", {"species": "TOTA", "kind": "form factor", "a": "0.4"})
    assert proposed.edit.name == "Add stem volume of TOTA"
    one = carried_out(farm, proposed, "volumes")
    assert line_removed(one, "volumes", 1).edit.name == "Take away stem volume 1"


@pytest.mark.parametrize(
    ("table", "values", "words"),
    [
        ("products", {"name": ""}, "name"),
        ("products", {"name": "log", "small_end_cm": "30", "large_end_cm": "20"}, "thicker than the large end"),
        ("products", {"name": "log", "small_end_cm": "20", "large_end_cm": "20"}, "as thick as the large end"),
        ("products", {"name": "log", "price": "much"}, "price"),
        ("products", {"name": "log", "kind": "toothpick"}, "kind"),
        ("volumes", {"kind": "power", "a": "0.001"}, "needs a above 0, and b"),
        ("volumes", {"kind": "table", "dbh_cm": "30"}, "needs a diameter and a volume"),
        ("volumes", {"kind": "form factor"}, "above 0 in a"),
        ("volumes", {"kind": "form factor", "a": "0.4", "bark_ratio": "1.5"}, "under bark|bark ratio"),
    ],
)
def test_what_cannot_be_used_is_refused(farm: Farm, table: str, values: dict[str, str], words: str) -> None:
    with pytest.raises(BadInput, match=words):
        line_added(farm, table, values)


def test_general_products_are_taken_over_once(farm: Farm) -> None:
    proposed = general_products_taken(farm)
    after = carried_out(farm, proposed, "products")
    own = product_list(after)
    assert own.are_own
    kinds = {product.kind for product in own.products}
    assert kinds == {product.kind for product in general_products()} - {"mushroom log"}  # no such genus on this farm
    assert not any(product.has_price for product in own.products)
    with pytest.raises(BadInput, match="already"):
        general_products_taken(after)


def test_mushroom_logs_are_cut_from_their_genera_only(farm: Farm) -> None:
    listed = product_list(farm)
    assert "mushroom log" not in {listed.products[place].kind for place in listed.of_species("TOTA")}
    oak = with_rows(farm, "species", code=["OAK"], name=["oak"], scientific=["Quercus robur"])
    listed = product_list(oak)
    assert "mushroom log" in {listed.products[place].kind for place in listed.of_species("OAK")}
    taken = carried_out(oak, general_products_taken(oak), "products").tables["products"]
    assert taken.loc[taken["kind"] == "mushroom log", "species"].tolist() == ["OAK"]


def test_a_product_for_one_species_goes_before_that_for_every_species(farm: Farm) -> None:
    own = with_rows(
        farm,
        "products",
        name=["log", "log", "wood"],
        kind=["sawlog", "sawlog", "firewood"],
        species=["", "TOTA", ""],
        small_end_cm=[25.0, 40.0, np.nan],
    )
    listed = product_list(own)
    assert [listed.products[place].small_end_cm for place in listed.of_species("TOTA")] == [40.0, 0.0]
    assert [listed.products[place].small_end_cm for place in listed.of_species("REDW")] == [25.0, 0.0]
