"""The part of the box about money: the grower's own rates, prices by kind of plant, and who pays."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QGridLayout, QLabel, QWidget

from farmmap.farm.species import plain
from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.plans.planting.recipes.recipe import Recipe, Share
from farmmap.window.tools.planting.draft import SHARE_KINDS, Draft
from farmmap.window.tools.planting.fields import Form, NumberField
from farmmap.window.tools.planting.section import Section

PER = {"each": "each", "m": "a metre", "ha": "a hectare", "h": "an hour"}
"""Units of rates, as they are said."""
MOST_MONEY = 1_000_000
MOST_PRICE = 10_000


class SharesTable(QWidget):
    """What part of each kind of cost the grant pays, and what part comes in kind."""

    changed = Signal(str, object)
    """``kind:part`` and the share, None where nothing is said."""

    def __init__(self) -> None:
        super().__init__()
        self.fields: dict[str, NumberField] = {}
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(4)
        grid.setColumnStretch(0, 1)
        for column, words in enumerate(("Who pays what part", "Grant, %", "In kind, %")):
            head = QLabel(words)
            head.setProperty("heading" if not column else "quiet", True)
            grid.addWidget(head, 0, column)
        for row, (kind, words) in enumerate(SHARE_KINDS):
            label = QLabel(words[:1].upper() + words[1:])
            grid.addWidget(label, 2 * row + 1, 0)
            answer = WrappedLabel()
            answer.setProperty("warning", True)
            answer.hide()
            grid.addWidget(answer, 2 * row + 2, 0, 1, 3)
            for column, (part, said) in enumerate((("grant_percent", "Grant pays"), ("in_kind_percent", "In kind")), 1):
                empty = "as below" if kind else "none"
                field = NumberField(f"{said}, {words}", "%", 0, 100, 5, may_be_empty=empty)
                name = f"{kind}:{part}"
                field.changed.connect(lambda value, name=name: self.changed.emit(name, value))
                field.judged.connect(lambda _trouble, kind=kind, answer=answer: self._judge(kind, answer))
                grid.addWidget(field, 2 * row + 1, column)
                self.fields[name] = field
        widest = max(field.width() for field in self.fields.values())
        for field in self.fields.values():
            field.setFixedWidth(widest)

    def show_shares(self, shares: Mapping[str, Share]) -> None:
        """Show who bears what."""
        for name, field in self.fields.items():
            kind, _, part = name.partition(":")
            found = shares.get(kind)
            field.show_value(None if found is None else float(getattr(found, part)))

    def _judge(self, kind: str, answer: WrappedLabel) -> None:
        fields = (self.fields[f"{kind}:{part}"] for part in ("grant_percent", "in_kind_percent"))
        troubles = " ".join(field.trouble for field in fields if field.trouble)
        answer.setText(troubles)
        answer.setVisible(bool(troubles))


class PricesForm(QWidget):
    """A price for each kind of plant that is planted, where it is another than that of its stock."""

    changed = Signal(object)
    """Prices by species."""

    def __init__(self) -> None:
        super().__init__()
        self.form = Form()
        self._words: tuple[str, ...] = ()
        self._prices: Mapping[str, float] = {}
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        head = QLabel("Price of one plant, by kind")
        head.setProperty("heading", True)
        self.note = WrappedLabel("One that is left empty costs what its stock costs; see Ordering and guards.")
        self.note.setProperty("quiet", True)
        self._grid.addWidget(head)
        self._grid.addWidget(self.note)
        self._grid.addWidget(self.form)

    def show_prices(self, recipe: Recipe) -> None:
        """Show a line for each plant of the recipe's zones, and for each that has a price."""
        words = planted_words(recipe)
        if words != self._words:
            self._make(words)
        self._prices = recipe.prices
        of_word = {plain(word): price for word, price in recipe.prices.items()}
        self.form.show_values({word: of_word.get(plain(word)) for word in words})
        for word in words:
            self.form.say_unit(word, recipe.currency)
        self.setVisible(bool(words))

    def _make(self, words: Sequence[str]) -> None:
        last, self.form, self._words = self.form, Form(), tuple(words)
        for word in words:
            self.form.add_number(word, word.replace("&", "&&"), "", 0, MOST_PRICE, 0.1, empty="as its stock")
        self.form.changed.connect(self._changed)
        self._grid.replaceWidget(last, self.form)
        last.hide()
        last.deleteLater()
        for field, after in pairwise(self.form.fields.values()):
            QWidget.setTabOrder(field, after)

    def _changed(self, word: str, value: object) -> None:
        others = {key: price for key, price in self._prices.items() if plain(key) != plain(word)}
        self.changed.emit(_put(others, word, value))


def planted_words(recipe: Recipe) -> tuple[str, ...]:
    """Return the plants of a recipe's zones as they were first written, then others that have a price."""
    found: dict[str, str] = {}
    for word in [*(kin.species for zone in recipe.zones for kin in zone.mix), *recipe.prices]:
        if word:
            found.setdefault(plain(word), word)
    return tuple(found.values())


class CostSection(Section):
    """The grower's own rates and prices, and who pays."""

    def __init__(self, change: Callable[[Draft], None], now: Callable[[], Draft]) -> None:
        super().__init__("Rates, prices, and who pays")
        self._change, self._now = change, now
        self.money = Form()
        self.money.add_words("currency", "Sign of the money")
        self.rates = Form()
        self._has_rates = False
        self.rates_note = WrappedLabel("A rate that is left empty is not counted.")
        self.rates_note.setProperty("quiet", True)
        self.prices = PricesForm()
        self.shares = SharesTable()
        self.note = WrappedLabel("What the grant and in kind leave, you pay.")
        self.note.setProperty("quiet", True)
        for form in (self.money, self.rates):
            form.changed.connect(self._changed)
        self.prices.changed.connect(lambda prices: self._change(self._now().with_recipe(prices=prices)))
        self.shares.changed.connect(self._share)
        for widget in (self.money, self.rates, self.rates_note, self.prices, self.shares, self.note):
            self.column.addWidget(widget)

    def show_draft(self, draft: Draft) -> None:
        """Show a draft."""
        recipe = draft.recipe
        if not self._has_rates:
            self._has_rates = True
            self._add_rates()
        self.money.show_values({"currency": recipe.currency})
        self.rates.show_values({name: recipe.rates.get(name) for name in self.rates.fields})
        for name in self.rates.fields:
            self.rates.say_unit(name, recipe.currency)
        self.prices.show_prices(recipe)
        self.shares.show_shares(recipe.shares)
        rates, prices = len(recipe.rates), len(recipe.prices)
        said = f"{rates} rate{'' if rates == 1 else 's'}"
        self.say(f"{said}, {prices} price{'' if prices == 1 else 's'}" if prices else said)

    def _add_rates(self) -> None:
        from farmmap.plans.planting.recipes.rates import UNITS

        for name, unit in UNITS.items():
            words = unit.words[:1].upper() + unit.words[1:]
            per = PER.get(unit.unit, f"a {unit.unit}")
            self.rates.add_number(name, f"{words}, {per}", "", 0, MOST_MONEY, 1, empty="none")

    def _changed(self, name: str, value: object) -> None:
        draft = self._now()
        if name == "currency":
            self._change(draft.with_recipe(currency=value))
        else:
            self._change(draft.with_recipe(rates=_put(draft.recipe.rates, name, value)))

    def _share(self, name: str, value: object) -> None:
        draft = self._now()
        kind, _, part = name.partition(":")
        held = draft.recipe.shares.get(kind, Share())
        new = replace(held, **{part: 0.0 if value is None else value})  # type: ignore[arg-type]
        none = value is None and new == Share()
        self._change(draft.with_recipe(shares=_put(draft.recipe.shares, kind, None if none else new)))


def _put(values: Mapping[str, object], name: str, value: object) -> dict[str, object]:
    """Return values with one put in, or left out if it is None."""
    kept = {key: one for key, one in values.items() if key != name}
    return kept if value is None else kept | {name: value}
