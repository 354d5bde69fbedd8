"""What a part of the pack is."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from farmmap.scene.page_flow import Flowing
from farmmap.sheets.pack.context import PackContext
from farmmap.sheets.pack.pack_table import PackTable


def _nothing(_pack: PackContext) -> str:
    return ""


@dataclass(frozen=True)
class Part:
    """A part of the pack.

    Attributes
    ----------
    title : str
        Its heading.
    about : str
        What is in it, for a list to choose from.
    intro : callable
        Gives farmmap's introduction, which the grower may replace; "" for none.
    things : callable
        Gives what stands in it.
    lacks : callable
        Says why it cannot be made, in words that go on after its title; "" if it can.
    """

    title: str
    about: str
    intro: Callable[[PackContext], str]
    things: Callable[[PackContext], Iterable[Flowing | PackTable]]
    lacks: Callable[[PackContext], str] = _nothing


def no_plan(pack: PackContext) -> str:
    """Say that no plan is given, where none is."""
    return "" if pack.plans else "no plan is given; name one that the farm keeps (--plan NAME)"
