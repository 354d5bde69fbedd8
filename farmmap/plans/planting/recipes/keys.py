"""The keys of a recipe file, each described once: what it holds, its limits, and what it says.

Reading, writing and the tests of docs/recipes.md all go by these descriptions;
defaults stand in `farmmap.plans.planting.recipes.recipe`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from farmmap.plans.planting.recipes.recipe import Pattern


class Holds(StrEnum):
    """What a key holds."""

    TEXT = "a text in quotes"
    NUMBER = "a number"
    WHOLE = "a whole number"
    YES_NO = "true or false"
    NUMBERS = "a list of numbers in square brackets"
    MONTHS = "a list of months in square brackets"
    TABLE = "a table"
    TABLES = "one or more tables"


@dataclass(frozen=True)
class Key:
    """One key of a recipe file.

    Attributes
    ----------
    name : str
        As it is written.
    holds : Holds
        What it holds.
    words : str
        What it says, for people.
    least, most : float
        Limits of a number.
    over_least : bool
        Whether the number must be greater than ``least``.
    or_none : bool
        Whether ``"none"`` may be written in its place.
    """

    name: str
    holds: Holds
    words: str
    least: float = 0.0
    most: float = math.inf
    over_least: bool = False
    or_none: bool = False


STOCKS = ("seed", "seedling", "rooted cutting", "pole")
"""Kinds of plants that can be ordered and planted."""

PATTERNS = {
    "rows": Pattern.ROWS,
    "contour": Pattern.CONTOUR,
    "triangular": Pattern.TRIANGLE,
    "grass": Pattern.NONE,
    **{pattern.value: pattern for pattern in Pattern},
}
"""Words for the patterns; those of `Pattern` and shorter ones."""

TOP = (
    Key("title", Holds.TEXT, "name of the recipe"),
    Key("purpose", Holds.TEXT, "what it is for"),
    Key("currency", Holds.TEXT, "sign of the money"),
    Key("seed", Holds.WHOLE, "another number gives another scatter, the same one the same plan", most=2**31 - 1),
    Key("width", Holds.TABLES, "how wide the margin is; of several the widest counts"),
    Key("zone", Holds.TABLES, "strips from the water outwards"),
    Key("set_backs", Holds.TABLE, "how far plants keep from what is there"),
    Key("fence", Holds.TABLE, "the fence to be built"),
    Key("order", Holds.TABLE, "how plants of each stock are ordered, guarded and planted"),
    Key("rates", Holds.TABLE, "money for one unit"),
    Key("shares", Holds.TABLE, "what part of a kind of cost the grant and work in kind bear"),
    Key("prices", Holds.TABLE, "price of one plant of a species"),
    Key("kind", Holds.TABLES, "kinds of plants that the recipe brings along"),
    Key("rule", Holds.TABLES, "width rules that the recipe brings along"),
)

WIDTH = (
    Key("width_m", Holds.NUMBER, "the same width everywhere", most=500, over_least=True),
    Key("by_channel", Holds.TABLES, "steps by width of the channel"),
    Key("by_slope", Holds.TABLES, "steps by slope of the ground beside the bank"),
    Key("rule_set", Holds.TEXT, "name of a rule in resources/margin_rules.csv or of your own"),
    Key("purpose", Holds.TEXT, "which lines of that rule hold, where it tells several kinds apart"),
    Key("to_fence", Holds.YES_NO, "out to the fence that is drawn along the bank"),
    Key("slope_within_m", Holds.NUMBER, "ground beside the bank whose mean slope counts", least=1, most=500),
    Key("least_m", Holds.NUMBER, "never narrower", most=500),
    Key("most_m", Holds.NUMBER, "never wider", most=500, over_least=True),
)

CHANNEL_STEP = (
    Key("up_to_m", Holds.NUMBER, "for channels up to this width, itself included", most=500, over_least=True),
    Key("width_m", Holds.NUMBER, "width of the margin there", most=500),
)

SLOPE_STEP = (
    Key("up_to_deg", Holds.NUMBER, "for slopes up to this, itself included", most=90, over_least=True),
    Key("width_m", Holds.NUMBER, "width of the margin there", most=500),
)

ZONE = (
    Key("name", Holds.TEXT, "name of the zone"),
    Key("share", Holds.NUMBER, "its part of the margin's width, 0 to 1", most=1, over_least=True),
    Key("percent", Holds.NUMBER, "the same in per cent", most=100, over_least=True),
    Key("width_m", Holds.NUMBER, "or its width", most=500, over_least=True),
    Key("pattern", Holds.TEXT, "how the plants stand"),
    Key("spacing_m", Holds.NUMBER, "from plant to plant and from row to row", least=0.1, most=100),
    Key("between_m", Holds.NUMBER, "from row to row", least=0.1, most=100),
    Key("within_m", Holds.NUMBER, "from plant to plant in a row", least=0.1, most=100),
    Key("plant", Holds.TABLES, "what is planted"),
    Key("groups_of", Holds.WHOLE, "plants of one kind that stand together, 1: well mixed", least=1, most=1000),
    Key("headland_m", Holds.NUMBER, "left free at the ends of rows", most=100),
    Key("turn_m", Holds.NUMBER, "least radius of a row's bends, for a machine", most=200),
    Key("reason", Holds.TEXT, "what the zone is for"),
    Key("harvest", Holds.TEXT, "what may be felled there later"),
)

PLANT = (
    Key("species", Holds.TEXT, "code or name of the plant"),
    Key("share", Holds.NUMBER, "its part of the zone's plants, 0 to 1", most=1, over_least=True),
    Key("percent", Holds.NUMBER, "the same in per cent", most=100, over_least=True),
    Key("stock", Holds.TEXT, "seed, seedling, rooted cutting or pole"),
    Key("reason", Holds.TEXT, "why it stands there"),
)

SET_BACKS = (
    Key("crown_m", Holds.NUMBER, "from the edges of the crowns that stand there", most=100),
    Key("fence_m", Holds.NUMBER, "from fences", most=200, or_none=True),
    Key("track_m", Holds.NUMBER, "from the edge of tracks", most=200, or_none=True),
    Key("boundary_m", Holds.NUMBER, "from the farm's boundary", most=200, or_none=True),
    Key("power_line_m", Holds.NUMBER, "from power lines", most=200, or_none=True),
    Key("building_m", Holds.NUMBER, "from buildings", most=200, or_none=True),
    Key("pipeline_m", Holds.NUMBER, "from pipelines", most=200, or_none=True),
    Key("drain_m", Holds.NUMBER, "from drains", most=200, or_none=True),
    Key("fence", Holds.TEXT, "or a published distance by name"),
    Key("power_line", Holds.TEXT, "or a published distance by name"),
    Key("building", Holds.TEXT, "or a published distance by name"),
    Key("pipeline", Holds.TEXT, "or a published distance by name"),
    Key("source", Holds.TABLE, "where your own figures come from, by key"),
)

SET_BACK_SOURCES = tuple(
    Key(key.name, Holds.TEXT, "where the figure comes from") for key in SET_BACKS if key.holds is Holds.NUMBER
)

FENCE = (
    Key("wanted", Holds.YES_NO, "whether one is to be built"),
    Key("set_back_m", Holds.NUMBER, "outside the planting, or from the bank", most=200),
    Key("from_bank", Holds.YES_NO, "whether the set-back counts from the bank"),
    Key("give_m", Holds.NUMBER, "how far further out the fence may run so as to be straight", most=100),
    Key("strain_most_m", Holds.NUMBER, "longest strain between strainer posts", least=5, most=2000),
    Key("post_m", Holds.NUMBER, "from post to post", least=0.5, most=100),
    Key("battens", Holds.WHOLE, "battens between two posts", most=50),
    Key("wires", Holds.WHOLE, "number of wires", most=30),
    Key("gates_every_m", Holds.NUMBER, "a gate at each end and then every so far; 0: only at the ends", most=100_000),
    Key("gate_m", Holds.NUMBER, "width of a gate", most=20),
    Key("flood_m", Holds.NUMBER, "spans lower than this above the creek are marked; 0: not looked at", most=50),
    Key("water_every_m", Holds.NUMBER, "a trough every so far outside the fence; 0: none", most=100_000),
    Key("water_off_m", Holds.NUMBER, "how far outside the fence a trough stands", most=1000),
    Key("ends", Holds.YES_NO, "whether the fence runs back to the bank at both ends"),
)

ORDER = (
    Key("lost_percent", Holds.NUMBER, "of those planted, expected to die", most=95),
    Key("pack", Holds.WHOLE, "plants in a tray or bundle", least=1, most=100_000),
    Key("pack_words", Holds.TEXT, "what such a pack is called"),
    Key("guard", Holds.NUMBER, "guards for one place", most=100),
    Key("stakes", Holds.NUMBER, "stakes for one place", most=100),
    Key("mat", Holds.NUMBER, "mats for one place", most=100),
    Key("minutes", Holds.NUMBER, "of one person's work to plant one", most=1000),
    Key("price", Holds.NUMBER, "of one plant", most=1e6),
    Key("months", Holds.MONTHS, "in which it is planted"),
)

SHARE = (
    Key("grant_percent", Holds.NUMBER, "borne by the grant", most=100),
    Key("in_kind_percent", Holds.NUMBER, "borne by work and material in kind", most=100),
)

KIND = (
    Key("code", Holds.TEXT, "short code"),
    Key("name", Holds.TEXT, "trade name"),
    Key("scientific", Holds.TEXT, "botanical name"),
    Key("form", Holds.TEXT, "tree, shrub or sedge"),
    Key("origin", Holds.TEXT, "native or introduced where the farm lies"),
    Key("years", Holds.NUMBERS, "ages at which crown and height are given", most=500, over_least=True),
    Key("crown_m", Holds.NUMBERS, "diameter of the crown at those ages", most=60),
    Key("height_m", Holds.NUMBERS, "height at those ages", most=130),
    Key("source", Holds.TEXT, "where the figures come from"),
)

RULE = (
    Key("rule_set", Holds.TEXT, "name of the rule"),
    Key("place", Holds.TEXT, "where it holds"),
    Key("source", Holds.TEXT, "who published it"),
    Key("year", Holds.TEXT, "when it was published"),
    Key("datum", Holds.TEXT, "from where the width is measured"),
    Key("row", Holds.TABLES, "its lines; where several hold, the widest counts"),
)

RULE_ROW = (
    Key("purpose", Holds.TEXT, "kind of water or planting that the line is for"),
    Key("condition", Holds.TEXT, "the condition in the words of the source"),
    Key("channel_m", Holds.TEXT, "width of the channel where it holds, in metres"),
    Key("slope_deg", Holds.TEXT, "slope of the ground where it holds, in degrees"),
    Key("slope_percent", Holds.TEXT, "slope of the ground where it holds, in per cent"),
    Key("stream_order", Holds.TEXT, "order of the stream (Strahler) where it holds"),
    Key("width_m", Holds.NUMBER, "width of the margin there", most=500),
    Key("more_m_per_percent", Holds.NUMBER, "so much wider for each % of slope over over_percent", most=500),
    Key("over_percent", Holds.NUMBER, "see more_m_per_percent", most=500),
)

MONEY_MOST = 1e9
"""Greatest rate or price for one unit."""
