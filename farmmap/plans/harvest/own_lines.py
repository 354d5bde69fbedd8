"""The grower's own products and stem volumes: put in, changed and taken away, each as one edit."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from farmmap.editing.fields import fields_changed
from farmmap.editing.proposed import Proposed, added_change, edit_of, removed_change, rows_of
from farmmap.editing.values import typed_values
from farmmap.editing.words import table_of, with_kind
from farmmap.errors import BadInput
from farmmap.farm.farm import Farm, shaped
from farmmap.farm.species import plain
from farmmap.plans.harvest.product_list import Product, general_products
from farmmap.plans.harvest.volume_rules import missing_in
from farmmap.plans.harvest.wood_kinds import scientific_names


def line_added(farm: Farm, table: str, values: Mapping[str, object]) -> Proposed:
    """Propose a new line of the grower's own.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    table : str
        ``products`` or ``volumes``.
    values : mapping of str to object
        Values by column, typed or as text from a form; "" for not known.

    Raises
    ------
    BadInput
        A value does not fit, or the line could not be used.
    """
    kind = table_of(table)
    typed = typed_values(kind, values)
    _refuse_useless(table, typed)
    rows = shaped(kind, {name: [value] for name, value in typed.items()}, _new_ids(farm, table, 1), farm.grid)
    called = str(typed.get("name") or "") or f"of {typed.get('species') or 'every species'}"
    return Proposed(edit_of(f"Add {kind.one} {called}", {table: added_change(farm, table, rows)}))


def line_changed(farm: Farm, table: str, row: int, values: Mapping[str, object]) -> Proposed:
    """Propose other values for a line of the grower's own.

    Raises
    ------
    BadInput
        A value does not fit, the line could not be used, or nothing changes.
    """
    typed = typed_values(table_of(table), values)
    before = rows_of(farm, table, row).to_dict("records")[0]
    _refuse_useless(table, before | typed)
    return fields_changed(farm, table, [row], values)


def line_removed(farm: Farm, table: str, row: int) -> Proposed:
    """Propose to take a line of the grower's own away."""
    name = f"Take away {with_kind(farm, table, row)}"
    return Proposed(edit_of(name, {table: removed_change(farm, table, [row])}))


def general_products_taken(farm: Farm) -> Proposed:
    """Propose to put the general products into the farm, so that they can be changed and priced.

    Raises
    ------
    BadInput
        The farm has products already.
    """
    if len(farm.tables["products"]):
        raise BadInput("the farm has products of its own already; take them away first, or change them")
    lines = [line for product in general_products() for line in _lines_of(farm, product)]
    kind = table_of("products")
    columns = {name: [line[name] for line in lines] for name in lines[0]}
    rows = shaped(kind, columns, _new_ids(farm, "products", len(lines)), farm.grid)
    return Proposed(edit_of("Take over the general products", {"products": added_change(farm, "products", rows)}))


def _lines_of(farm: Farm, product: Product) -> list[dict[str, object]]:
    """Return the lines of the table for a product: one, or one for each species of the farm that gives it."""
    codes = [""]
    if product.genera:
        names = scientific_names(farm)
        of_farm = [str(code) for code in farm.species["code"]]
        codes = [code for code in of_farm if plain(names.get(code, "")).partition(" ")[0] in product.genera]
    return [
        {
            "name": product.name,
            "kind": product.kind,
            "species": code,
            "small_end_cm": product.small_end_cm or np.nan,
            "large_end_cm": product.large_end_cm if np.isfinite(product.large_end_cm) else np.nan,
            "length_m": product.length_m,
            "per": product.per,
            "source": product.source,
        }
        for code in codes
    ]


def _new_ids(farm: Farm, table: str, number: int) -> np.ndarray:
    ids = farm.tables[table].index
    first = int(ids.max()) + 1 if len(ids) else 1
    return np.arange(first, first + number, dtype=np.int64)


def _refuse_useless(table: str, line: Mapping[str, object]) -> None:
    """Refuse a line that could be written but not used."""
    if table == "volumes":
        missing = missing_in(line)
        if missing:
            raise BadInput(f"{missing}; fill it in")
    if table == "products":
        small, large = (_number(line.get(name)) for name in ("small_end_cm", "large_end_cm"))
        if small >= large:
            thicker = "thicker than" if small > large else "as thick as"
            raise BadInput(f"the small end of {small:g} cm is {thicker} the large end of {large:g} cm; change one")


def _number(value: object) -> float:
    return float(value) if isinstance(value, int | float) else float("nan")
