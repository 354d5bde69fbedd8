"""Parts of the box that are plain forms: the recipe itself, set-backs, fence, and how plants are ordered."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton

from farmmap.farm.day_words import MONTHS
from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.plans.planting.recipes.recipe import SetBacks, StockOrder
from farmmap.window.tools.planting.draft import Draft
from farmmap.window.tools.planting.fields import Choice, Form, as_typed
from farmmap.window.tools.planting.mix import STOCK_WORDS
from farmmap.window.tools.planting.section import Section

Change = Callable[[Draft], None]
Now = Callable[[], Draft]

CLEAR = (
    ("crown_m", "Edge of standing crowns"),
    ("fence_m", "Fences"),
    ("track_m", "Edge of tracks"),
    ("boundary_m", "Farm boundary"),
    ("power_line_m", "Power lines"),
    ("building_m", "Buildings"),
    ("pipeline_m", "Pipelines"),
    ("drain_m", "Drains"),
)
MOST_CLEAR_M = 200.0
SHORT_MONTH = 3
"""Letters by which a month is known."""


class RecipeSection(Section):
    """Where the recipe comes from, and where it goes."""

    example_wanted = Signal(object)
    open_wanted = Signal()
    save_wanted = Signal()

    def __init__(self, change: Change, now: Now) -> None:
        super().__init__("Recipe")
        self._change, self._now = change, now
        self.form = Form()
        self.examples: Choice = self.form.add_choice("example", "Start from", (), below=True)
        self.form.add_words("title", "&Title")
        self.form.add_words("purpose", "What it is &for", below=True)
        self.form.add_number(
            "seed",
            "Layout number",
            "",
            0,
            999_999,
            1,
            whole=True,
            tip="Another number mixes and scatters the plants differently; the same number gives the same plan",
        )
        self.form.changed.connect(self._changed)
        self.open_file, self.save_file = QPushButton("Open a file…"), QPushButton("Save as a file…")
        row = QHBoxLayout()
        for button, signal in ((self.open_file, self.open_wanted), (self.save_file, self.save_wanted)):
            button.setAutoDefault(False)
            button.clicked.connect(signal)
            row.addWidget(button)
        row.addStretch(1)
        self.column.addWidget(self.form)
        self.column.addLayout(row)

    def show_draft(self, draft: Draft) -> None:
        """Show a draft."""
        recipe = draft.recipe
        self.form.show_values({"title": recipe.title, "purpose": recipe.purpose, "seed": recipe.seed})
        self.say(recipe.title)

    def _changed(self, name: str, value: object) -> None:
        if name == "example":
            if value is not None:
                self.example_wanted.emit(value)
        else:
            self._change(self._now().with_recipe(**{name: int(value) if name == "seed" else value}))  # type: ignore[call-overload]


class ClearSection(Section):
    """How far plants keep from what is there."""

    def __init__(self, change: Change, now: Now) -> None:
        super().__init__("Keep clear of")
        self._change, self._now = change, now
        self.form = Form()
        for name, words in CLEAR:
            empty = "" if name == "crown_m" else "not said"
            self.form.add_number(name, words, "m", 0, MOST_CLEAR_M, 0.5, empty=empty)
        self.form.changed.connect(self._changed)
        self.note = WrappedLabel(
            "Where nothing is said only the thing itself is kept clear. What the law asks for differs from place to "
            "place: ask the owner of a line, pipe or drain."
        )
        self.note.setProperty("quiet", True)
        self.source = WrappedLabel()
        self.source.setProperty("quiet", True)
        for widget in (self.form, self.note, self.source):
            self.column.addWidget(widget)

    def show_draft(self, draft: Draft) -> None:
        """Show a draft."""
        clear = draft.recipe.set_backs
        self.form.show_values({name: getattr(clear, name) for name, _ in CLEAR})
        words = dict(CLEAR)
        said = [f"{words.get(name, name)}: {source}" for name, source in clear.source.items() if source]
        self.source.setText("Sources. " + "; ".join(said) if said else "")
        self.source.setVisible(bool(said))
        given = [name for name, _ in CLEAR if getattr(clear, name) is not None]
        self.say(f"{len(given)} of {len(CLEAR)} distances given")

    def _changed(self, name: str, value: object) -> None:
        draft = self._now()
        clear: SetBacks = draft.recipe.set_backs
        source = {
            one: words for one, words in clear.source.items() if one != name
        }  # the figure is the grower's own now
        self._change(draft.with_recipe(set_backs=replace(clear, **{name: value, "source": source})))  # type: ignore[arg-type]


class FenceSection(Section):
    """The fence that is to be built."""

    def __init__(self, change: Change, now: Now) -> None:
        super().__init__("Fence")
        self._change, self._now = change, now
        self.wanted = Form()
        self.wanted.add_tick("wanted", "Build a fence along the planting")
        self.form = form = Form()
        form.add_choice("from_bank", "It stands", ((False, "outside the planting"), (True, "so far from the bank")))
        form.add_number("set_back_m", "How far", "m", 0, 500, 0.5)
        form.add_number("give_m", "May run further out by, to be straight", "m", 0, 50, 0.5)
        form.add_number("strain_most_m", "Longest strain", "m", 10, 1000, 10, tip="From strainer post to strainer post")
        form.add_number("post_m", "From post to post", "m", 0.5, 50, 0.5)
        form.add_number("battens", "Battens between two posts", "", 0, 20, 1, whole=True)
        form.add_number("wires", "Wires", "", 1, 20, 1, whole=True)
        form.add_number("gates_every_m", "A gate every", "m", 0, 10_000, 50, tip="0: only at the ends")
        form.add_number("gate_m", "Width of a gate", "m", 0.5, 20, 0.1)
        form.add_number(
            "flood_m",
            "A flood may rise by",
            "m",
            0,
            30,
            0.25,
            tip="Above the creek, by the elevation under the map; 0: not looked at",
        )
        form.add_number("water_every_m", "A trough every", "m", 0, 10_000, 50, tip="0: none")
        form.add_number("water_off_m", "A trough stands off the fence by", "m", 0, 500, 5)
        form.add_tick("ends", "Runs back to the bank at both ends")
        for one in (self.wanted, form):
            one.changed.connect(self._changed)
            self.column.addWidget(one)

    def show_draft(self, draft: Draft) -> None:
        """Show a draft."""
        fence = draft.recipe.fence
        self.wanted.show_values({"wanted": fence.wanted})
        self.form.setVisible(fence.wanted)
        self.form.show_values({name: getattr(fence, name) for name in self.form.fields})
        where = "from the bank" if fence.from_bank else "outside"
        said = f"{as_typed(fence.set_back_m)} m {where}, {fence.wires} wires"
        self.say(said if fence.wanted else "none")

    def _changed(self, name: str, value: object) -> None:
        draft = self._now()
        if name in {"battens", "wires"}:
            value = int(value)  # type: ignore[call-overload]
        self._change(draft.with_recipe(fence=replace(draft.recipe.fence, **{name: value})))  # type: ignore[arg-type]


class OrderSection(Section):
    """How plants of each stock are ordered, guarded and planted."""

    def __init__(self, change: Change, now: Now) -> None:
        super().__init__("Ordering and guards")
        self._change, self._now = change, now
        self._stock = "seedling"
        self.which = Form()
        self.which.add_choice("stock", "Stock", STOCK_WORDS)
        self.form = form = Form()
        form.add_number("lost_percent", "Expected to be lost", "%", 0, 95, 5)
        form.add_number("pack", "Plants in a pack", "", 1, 10_000, 1, whole=True)
        form.add_words("pack_words", "What a pack is")
        form.add_number("guard", "Guards for a plant", "", 0, 10, 1)
        form.add_number("stakes", "Stakes for a plant", "", 0, 10, 1)
        form.add_number("mat", "Mats for a plant", "", 0, 10, 1)
        form.add_number("minutes", "Work to plant one", "min", 0, 600, 0.5)
        form.add_number("price", "Price of a plant", "$", 0, 10_000, 0.1)
        form.add_words("months", "Planted in", "Months, such as Jun, Jul, Aug or 6, 7, 8")
        self.which.changed.connect(self._turn_to)
        form.changed.connect(self._changed)
        self.note = WrappedLabel()
        self.note.setProperty("warning", True)
        self.note.hide()
        for widget in (self.which, form, self.note):
            self.column.addWidget(widget)

    def show_draft(self, draft: Draft) -> None:
        """Show a draft."""
        orders = draft.recipe.orders
        one = orders.get(self._stock, StockOrder())
        self.which.show_values({"stock": self._stock})
        values: dict[str, object] = {name: getattr(one, name) for name in self.form.fields if name != "months"}
        months = months_as_typed(one.months)
        if months_of(str(self.form.fields["months"].text())) != one.months:  # type: ignore[attr-defined]
            values["months"] = months
        self.form.show_values(values)
        self.form.say_unit("price", draft.recipe.currency)
        used = sorted({kin.stock for zone in draft.recipe.zones for kin in zone.mix})
        self.say(
            ", ".join(f"{stock}: {as_typed(orders[stock].lost_percent)} % lost" for stock in used if stock in orders)
        )

    def _turn_to(self, _name: str, value: object) -> None:
        self._stock = str(value)
        self.form.show_values({"months": ""})
        self.show_draft(self._now())

    def _changed(self, name: str, value: object) -> None:
        draft = self._now()
        if name == "months":
            months = months_of(str(value))
            self.note.setVisible(months is None)
            if months is None:
                self.note.setText(
                    "Write months by name or number, with commas between them, such as Jun, Jul, Aug or 6, 7, 8."
                )
                return
            value = months
        elif name == "pack":
            value = int(value)  # type: ignore[call-overload]
        one = replace(draft.recipe.orders.get(self._stock, StockOrder()), **{name: value})  # type: ignore[arg-type]
        self._change(draft.with_recipe(orders={**draft.recipe.orders, self._stock: one}))


def months_of(text: str) -> tuple[int, ...] | None:
    """Return months as they are typed, by number or name: ``6, 7`` or ``Jun, July``; None if they are none."""
    found: list[int] = []
    for part in text.replace(",", " ").replace(".", " ").split():
        month = int(part) if part.isdecimal() else _month_called(part)
        if month is None or not 1 <= month <= 12:
            return None
        found.append(month)
    return tuple(dict.fromkeys(found))


def _month_called(word: str) -> int | None:
    begins = [number for number, name in enumerate(MONTHS, 1) if name.casefold().startswith(word.casefold())]
    return begins[0] if len(word) >= SHORT_MONTH and begins else None


def months_as_typed(months: Sequence[int]) -> str:
    """Return months as they may be typed: ``Jun, Jul, Aug``."""
    return ", ".join(MONTHS[month - 1][:SHORT_MONTH] for month in months)
