"""What a grower says about a planting: how wide, what grows where, what it is kept clear of, and what it costs.

A recipe says nothing of any creek; the same one may be laid along many. It is
written as a TOML file, see `farmmap.plans.planting.recipes.recipe_file`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from farmmap.plans.planting.recipes.rule_set import RuleSet


class Pattern(StrEnum):
    """How the plants of a zone stand to one another."""

    ROWS = "rows along the creek"
    CONTOUR = "rows along the contour"
    SQUARE = "square"
    TRIANGLE = "triangle"
    SCATTERED = "scattered"
    NONE = "none"  # left in grass


@dataclass(frozen=True)
class Step:
    """One line of a table of widths: this wide up to a limit, None for everything beyond."""

    up_to: float | None
    width_m: float


@dataclass(frozen=True)
class WidthRule:
    """One way of saying how wide a margin is; exactly one attribute besides the limits is given.

    Attributes
    ----------
    width_m : float or None
        The same width everywhere. [m]
    by_channel : tuple of Step
        By width of the channel. [limits and widths in m]
    by_slope : tuple of Step
        By mean slope of the ground within ``slope_within_m`` of the bank. [limits in degrees, widths in m]
    slope_within_m : float
        How far from the bank the slope of the ground is looked at. [m]
    rule_set : str
        Name of a published rule set (resources/margin_rules.csv), or of the user's own.
    purpose : str
        Which lines of that rule set hold, "" if it has one kind only.
    to_fence : bool
        Out to the fence that is drawn along the bank.
    least_m, most_m : float
        Whatever the rule says, never narrower or wider. [m]
    """

    width_m: float | None = None
    by_channel: tuple[Step, ...] = ()
    by_slope: tuple[Step, ...] = ()
    rule_set: str = ""
    purpose: str = ""
    to_fence: bool = False
    least_m: float = 0.0
    most_m: float = 500.0
    slope_within_m: float = 20.0


@dataclass(frozen=True)
class PlantKind:
    """What is known of a kind of plant: names, and how crown and height grow in the open.

    Attributes
    ----------
    code, name, scientific : str
        Short code, trade name, botanical name.
    form : str
        ``tree``, ``shrub`` or ``sedge`` (with rushes, tussocks and other low growth).
    origin : str
        One of `farmmap.farm.schema.ORIGINS`.
    years : tuple of float
        Ages at which crown and height are given, rising. [years since planting]
    crown_m, height_m : tuple of float
        Diameter of the crown and height at those ages; between them in a straight line, from 0 at planting, and
        held after the last. [m]
    source : str
        Where the figures come from.
    """

    code: str
    name: str
    scientific: str = ""
    form: str = "tree"
    origin: str = ""
    years: tuple[float, ...] = ()
    crown_m: tuple[float, ...] = ()
    height_m: tuple[float, ...] = ()
    source: str = ""


@dataclass(frozen=True)
class Kin:
    """One kind of plant of a zone's mix.

    Attributes
    ----------
    species : str
        Code or name, as the farm or resources/species.csv or resources/plants.csv has it.
    share : float
        Of the zone's plants, 0 to 1; the shares of a zone add up to 1.
    stock : str
        One of `farmmap.farm.schema.STOCKS`.
    reason : str
        Why it stands there, for the grower and the funder.
    """

    species: str
    share: float
    stock: str = "seedling"
    reason: str = ""


@dataclass(frozen=True)
class Zone:
    """A strip of the margin, given from the water outwards.

    Attributes
    ----------
    name : str
        Name of the zone.
    share : float or None
        Its share of the margin's width, 0 to 1.
    width_m : float or None
        Or its width. [m]
    pattern : Pattern
        How the plants stand.
    between_m, within_m : float
        Between rows, and between plants within a row; the same for square, triangle and scattered. [m]
    mix : tuple of Kin
        What is planted.
    groups_of : int
        Plants of one kind that stand together; 1: well mixed.
    headland_m : float
        Left free at the ends of rows. [m]
    turn_m : float
        Least radius of a row's bends, for a machine; 0: none is driven. [m]
    reason : str
        What the zone is for.
    harvest : str
        What may be felled there later, in words.
    """

    name: str
    share: float | None = None
    width_m: float | None = None
    pattern: Pattern = Pattern.ROWS
    between_m: float = 0.0
    within_m: float = 0.0
    mix: tuple[Kin, ...] = ()
    groups_of: int = 1
    headland_m: float = 0.0
    turn_m: float = 0.0
    reason: str = ""
    harvest: str = ""


@dataclass(frozen=True)
class SetBacks:
    """How far plants keep from what is there, on the level; None: not said, so only the thing itself is kept clear.

    Attributes
    ----------
    crown_m : float
        From the edges of the crowns that stand there.
    fence_m, boundary_m, power_line_m, building_m, pipeline_m, drain_m, track_m : float or None
        From fences (drawn and planned), the farm's boundary, hazards of each kind beyond what they are given on the
        farm (the wider counts), and the edge of tracks.
    source : mapping of str to str
        Where each figure comes from.
    """

    crown_m: float = 0.0
    fence_m: float | None = 1.0
    track_m: float | None = 3.0
    boundary_m: float | None = None
    power_line_m: float | None = None
    building_m: float | None = None
    pipeline_m: float | None = None
    drain_m: float | None = None
    source: Mapping[str, str] = field(default_factory=dict[str, str])


@dataclass(frozen=True)
class FenceWish:
    """The fence to be built along the planting.

    Attributes
    ----------
    wanted : bool
        Whether one is to be built.
    set_back_m : float
        Outside the planting, or from the bank if ``from_bank``. [m]
    from_bank : bool
        Whether the set-back counts from the bank.
    give_m : float
        How far further out the fence may run so as to be straight. [m]
    strain_most_m : float
        Longest strain between strainer posts. [m]
    post_m : float
        From post to post. [m]
    battens : int
        Between two posts.
    wires : int
        Number of wires.
    gates_every_m : float
        A gate at each end and then every so far, 0 only at the ends. [m]
    gate_m : float
        Width of a gate. [m]
    flood_m : float
        A span lower than this above the creek is marked as flood-prone; 0: not looked at. [m]
    water_every_m : float
        A trough every so far outside the fence, 0 for none. [m]
    water_off_m : float
        How far outside the fence a trough stands; no published distance was read, so 0, at the fence. [m]
    ends : bool
        Whether the fence runs back to the bank at both ends of the stretch.
    """

    wanted: bool = True
    set_back_m: float = 1.0
    from_bank: bool = False
    give_m: float = 2.0
    strain_most_m: float = 200.0
    post_m: float = 4.0
    battens: int = 0
    wires: int = 7
    gates_every_m: float = 0.0
    gate_m: float = 4.0
    flood_m: float = 0.0
    water_every_m: float = 0.0
    water_off_m: float = 0.0
    ends: bool = True


@dataclass(frozen=True)
class StockOrder:
    """How plants of one stock are ordered, guarded and planted.

    Attributes
    ----------
    lost_percent : float
        Of those planted, expected to die; each is replaced, so need / (1 - lost / 100) are ordered and planted.
    pack : int
        Plants in a tray or bundle; orders are rounded up to whole ones.
    pack_words : str
        ``tray``, ``bundle`` ...
    guard, stakes, mat : float
        Of each, for one place; the plant that replaces a dead one takes over its own.
    minutes : float
        Of one person's work to plant one.
    price : float
        Of one plant.
    months : tuple of int
        In which it is planted.
    """

    lost_percent: float = 0.0
    pack: int = 1
    pack_words: str = "tray"
    guard: float = 0.0
    stakes: float = 0.0
    mat: float = 0.0
    minutes: float = 2.0
    price: float = 0.0
    months: tuple[int, ...] = ()


@dataclass(frozen=True)
class Share:
    """Who bears what part of a kind of cost, in per cent; what is left the grower pays."""

    grant_percent: float = 0.0
    in_kind_percent: float = 0.0


@dataclass(frozen=True)
class Recipe:
    """All that a grower says about a planting.

    Attributes
    ----------
    title : str
        Name of the recipe.
    purpose : str
        What it is for.
    widths : tuple of WidthRule
        The widest of them counts.
    zones : tuple of Zone
        From the water outwards.
    set_backs : SetBacks
        What plants keep clear of.
    fence : FenceWish
        The fence to be built.
    orders : mapping of str to StockOrder
        By stock.
    rates : mapping of str to float
        Money for one unit, by the names in `farmmap.plans.planting.recipes.rates.UNITS`.
    shares : mapping of str to Share
        By kind of cost (plants, guards, fence, water, work); ``""`` for all others.
    plants : tuple of PlantKind
        Kinds of plants that the recipe brings along itself; they go before the farm's and the program's own.
    prices : mapping of str to float
        Price of one plant of a species, where it is not that of its stock.
    currency : str
        Sign of the money, for people.
    seed : int
        Another number gives another scatter; the same gives the same plan.
    rule_sets : tuple of RuleSet
        Width rules that the recipe brings along itself; they go before the published ones.
    lines : mapping of str to int
        Line of the file on which each part begins, for messages: ``zones.0.mix.1.share`` -> 31.
    """

    title: str
    widths: tuple[WidthRule, ...]
    zones: tuple[Zone, ...]
    purpose: str = ""
    set_backs: SetBacks = SetBacks()
    fence: FenceWish = FenceWish()
    orders: Mapping[str, StockOrder] = field(default_factory=dict[str, StockOrder])
    rates: Mapping[str, float] = field(default_factory=dict[str, float])
    shares: Mapping[str, Share] = field(default_factory=dict[str, Share])
    plants: tuple[PlantKind, ...] = ()
    prices: Mapping[str, float] = field(default_factory=dict[str, float])
    currency: str = "$"
    seed: int = 1
    rule_sets: tuple[RuleSet, ...] = ()
    lines: Mapping[str, int] = field(default_factory=dict[str, int])
