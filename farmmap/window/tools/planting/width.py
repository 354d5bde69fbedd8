"""How wide the margin is: one width, by channel or slope, by a published rule, to a fence, or the widest of several."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.plans.planting.recipes.recipe import Step, WidthRule
from farmmap.window.tools.planting.draft import Draft
from farmmap.window.tools.planting.fields import Choice, Form, NumberField, as_typed
from farmmap.window.tools.planting.section import Section
from farmmap.window.tools.sentences import sentence

if TYPE_CHECKING:
    from farmmap.plans.planting.recipes.rules import RuleSet

KINDS = (
    ("same", "the same everywhere"),
    ("channel", "by width of the channel"),
    ("slope", "by slope of the ground"),
    ("rule", "by a rule from a list"),
    ("fence", "out to the drawn fence"),
)
FIRST_STEPS = {"channel": (Step(3.0, 5.0), Step(None, 10.0)), "slope": (Step(10.0, 10.0), Step(None, 20.0))}
MOST_M = 500.0
CHECK = "A guide only: check your local code before you plant or fence."


def kind_of(rule: WidthRule) -> str:
    """Return which kind of rule it is."""
    if rule.to_fence:
        return "fence"
    if rule.rule_set:
        return "rule"
    if rule.by_channel:
        return "channel"
    return "slope" if rule.by_slope else "same"


def rule_words(rule: WidthRule) -> str:
    """Return a rule in few words: ``10 m``, ``by slope``."""
    match kind_of(rule):
        case "same":
            return f"{as_typed(rule.width_m)} m"
        case "channel":
            return "by channel width"
        case "slope":
            return "by slope"
        case "rule":
            return rule.rule_set
        case _:
            return "to the fence"


class StepsTable(QWidget):
    """Lines of a table of widths: up to so much, so wide; the last holds beyond."""

    changed = Signal(object)
    """The lines, a tuple of `Step`."""

    def __init__(self, unit: str) -> None:
        super().__init__()
        self._unit = unit
        self._steps: tuple[Step, ...] = ()
        self.rows: list[tuple[NumberField | None, NumberField]] = []
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(4)
        self._lines = QVBoxLayout()
        self._column.addLayout(self._lines)
        self.more, self.fewer = QPushButton("Add a line"), QPushButton("Take the last line away")
        buttons = QHBoxLayout()
        for button, do in ((self.more, self._add), (self.fewer, self._remove)):
            button.setAutoDefault(False)
            button.clicked.connect(do)
            buttons.addWidget(button)
        buttons.addStretch(1)
        self._column.addLayout(buttons)

    def show_steps(self, steps: tuple[Step, ...]) -> None:
        """Show these lines."""
        if len(steps) != len(self.rows):
            self._make(steps)
        self._steps = steps
        for (limit, width), step in zip(self.rows, steps, strict=True):
            if limit is not None:
                limit.show_value(step.up_to)
            width.show_value(step.width_m)
        self.fewer.setEnabled(len(steps) > 1)

    def _make(self, steps: tuple[Step, ...]) -> None:
        while self._lines.count():
            item = self._lines.takeAt(0)
            widget = None if item is None else item.widget()
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        self.rows = []
        for place, step in enumerate(steps):
            line = QWidget()
            row = QHBoxLayout(line)
            row.setContentsMargins(0, 0, 0, 0)
            limit: NumberField | None = None
            if step.up_to is not None:
                limit = NumberField(f"Line {place + 1}, up to", self._unit, 0, 1000, 1)
                limit.changed.connect(lambda value, at=place: self._put(at, up_to=value))
                row.addWidget(QLabel("up to"))
                row.addWidget(limit)
                row.addWidget(QLabel(f"{self._unit}:"))
            else:
                row.addWidget(QLabel("beyond:"))
            row.addStretch(1)
            width = NumberField(f"Line {place + 1}, width", "m", 0, MOST_M, 1)
            width.changed.connect(lambda value, at=place: self._put(at, width_m=value))
            row.addWidget(width)
            row.addWidget(QLabel("m"))
            self._lines.addWidget(line)
            self.rows.append((limit, width))

    def _put(self, place: int, **values: float) -> None:
        steps = list(self._steps)
        steps[place] = replace(steps[place], **values)
        self._steps = tuple(steps)
        self.changed.emit(self._steps)

    def _add(self) -> None:
        steps = list(self._steps)
        limits = [step.up_to for step in steps if step.up_to is not None]
        beyond = steps[-1] if steps else Step(None, 10.0)
        steps.insert(max(len(steps) - 1, 0), Step((limits[-1] if limits else 0.0) + 5.0, beyond.width_m))
        self.changed.emit(tuple(steps))

    def _remove(self) -> None:
        steps = self._steps
        if len(steps) > 1:
            self.changed.emit((*steps[:-2], steps[-1]))


class RuleForm(QFrame):
    """One way of saying how wide."""

    changed = Signal(object)
    """Another `WidthRule`."""
    removed = Signal()

    def __init__(self, rule_sets: Mapping[str, RuleSet]) -> None:
        super().__init__()
        self._sets: Mapping[str, RuleSet] = {}
        self._rule = WidthRule(width_m=10.0)
        self.form = Form()
        self.kind: Choice = self.form.add_choice("kind", "How &wide", KINDS)
        self.same = self.form.add_number(
            "width_m", "&Width", "m", 0.5, MOST_M, 0.5, tip="Level, from the bank; or drag the outer edge on the map"
        )
        self.rule = self.form.add_choice("rule_set", "&Rule", (), below=True)
        self.purpose = self.form.add_choice("purpose", "Purpose", (), below=True)
        self.offer(rule_sets)
        self.least = self.form.add_number("least_m", "Never narrower than", "m", 0, MOST_M, 1)
        self.most = self.form.add_number("most_m", "Never wider than", "m", 0, MOST_M, 1)
        self.channel, self.slope = StepsTable("m"), StepsTable("°")
        self.guide = WrappedLabel()
        self.guide.setProperty("quiet", True)
        self.remove = QPushButton("Take this rule away")
        self.remove.setAutoDefault(False)
        self.remove.clicked.connect(self.removed)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        for widget in (self.form, self.channel, self.slope, self.guide):
            column.addWidget(widget)
        column.addWidget(self.remove, 0, Qt.AlignmentFlag.AlignLeft)
        self.form.changed.connect(self._changed)
        self.channel.changed.connect(lambda steps: self._emit(replace(self._rule, by_channel=steps)))
        self.slope.changed.connect(lambda steps: self._emit(replace(self._rule, by_slope=steps)))

    def offer(self, rule_sets: Mapping[str, RuleSet]) -> None:
        """Offer these rules."""
        if self._sets != rule_sets:
            self._sets = dict(rule_sets)
            self.rule.offer([(name, f"{name} (your own)" if one.own else name) for name, one in rule_sets.items()])

    def show_rule(self, rule: WidthRule, *, alone: bool) -> None:
        """Show a rule, and whether there is no other."""
        self._rule, kind = rule, kind_of(rule)
        for name in ("width_m", "rule_set", "purpose", "least_m", "most_m"):
            self.form.show_line(name, False)
        values: dict[str, object] = {"kind": kind, "least_m": rule.least_m, "most_m": rule.most_m}
        self.form.show_line("width_m", kind == "same")
        for name in ("least_m", "most_m"):
            self.form.show_line(name, kind != "same")
        if kind == "same":
            values["width_m"] = rule.width_m
        if kind == "rule":
            known = self._sets.get(rule.rule_set)
            purposes = () if known is None else known.purposes
            self.purpose.offer([(one, one or "any") for one in purposes])
            self.form.show_line("rule_set", True)
            self.form.show_line("purpose", len(purposes) > 1)
            values |= {"rule_set": rule.rule_set, "purpose": rule.purpose}
            self.guide.setText(self._guide(known))
        elif kind == "fence":
            self.guide.setText("The width follows the fence that is drawn along the bank.")
        else:
            self.guide.setText(CHECK if kind in {"channel", "slope"} else "")
        self.guide.setVisible(bool(self.guide.text()))
        self.channel.setVisible(kind == "channel")
        self.slope.setVisible(kind == "slope")
        if kind == "channel":
            self.channel.show_steps(rule.by_channel)
        if kind == "slope":
            self.slope.show_steps(rule.by_slope)
        self.form.show_values(values)
        self.remove.setVisible(not alone)

    def _guide(self, known: RuleSet | None) -> str:
        if known is None:
            return (
                f"The rule {self._rule.rule_set} is neither a published one nor one of your own that was opened. If it "
                f"is yours, open its file by the button below. {CHECK}"
            )
        return sentence(known.words())

    def _changed(self, name: str, value: object) -> None:
        if name == "kind":
            self._emit(self._of_kind(str(value)))
        elif name == "rule_set":
            known = self._sets.get(str(value))
            first = "" if known is None else known.purposes[0]
            self._emit(replace(self._rule, rule_set=str(value), purpose=first))
        else:
            self._emit(replace(self._rule, **{name: value}))  # type: ignore[arg-type]

    def _of_kind(self, kind: str) -> WidthRule:
        bare = WidthRule(least_m=self._rule.least_m, most_m=self._rule.most_m)
        match kind:
            case "channel":
                return replace(bare, by_channel=FIRST_STEPS["channel"])
            case "slope":
                return replace(bare, by_slope=FIRST_STEPS["slope"])
            case "rule" if self._sets:
                rules = list(self._sets.values())
                known = next((one for one in rules if one.own), rules[0])
                return replace(bare, rule_set=known.name, purpose=known.purposes[0])
            case "fence":
                return replace(bare, to_fence=True)
            case _:
                return WidthRule(width_m=10.0)

    def _emit(self, rule: WidthRule) -> None:
        self._rule = rule
        self.changed.emit(rule)


class WidthSection(Section):
    """The rules of width; where there are several the widest counts."""

    own_wanted = Signal()
    """A file of the grower's own rules is to be opened."""

    def __init__(
        self,
        change: Callable[[Draft], None],
        draft: Callable[[], Draft],
        rule_sets: Callable[[], Mapping[str, RuleSet]],
    ) -> None:
        super().__init__("How wide")
        self._change, self._draft, self._rule_sets = change, draft, rule_sets
        self._own: dict[str, RuleSet] = {}
        self.rules: list[RuleForm] = []
        self._lines = QVBoxLayout()
        self.another = QPushButton("Add another rule: the widest counts")
        self.another.setAutoDefault(False)
        self.another.clicked.connect(self._add)
        self.own = QPushButton("Open rules of your own…")
        self.own.setAutoDefault(False)
        self.own.setToolTip("A table of widths that you wrote, margin_rules.csv; docs/recipes.md tells its columns")
        self.own.clicked.connect(self.own_wanted)
        self.here, self.own_note = WrappedLabel(), WrappedLabel()
        for note in (self.here, self.own_note):
            note.setProperty("quiet", True)
        self.column.addLayout(self._lines)
        self.column.addWidget(self.here)
        self.column.addWidget(self.another, 0, Qt.AlignmentFlag.AlignLeft)
        self.column.addWidget(self.own, 0, Qt.AlignmentFlag.AlignLeft)
        self.column.addWidget(self.own_note)

    def show_draft(self, draft: Draft) -> None:
        """Show a draft."""
        rules = draft.recipe.widths
        while len(self.rules) > len(rules):
            form = self.rules.pop()
            self._lines.removeWidget(form)
            form.hide()
            form.deleteLater()
        while len(self.rules) < len(rules):
            self._make_form(len(self.rules))
        for form, rule in zip(self.rules, rules, strict=True):
            form.offer(self.known)
            form.show_rule(rule, alone=len(rules) == 1)
        own = [name for name, one in self.known.items() if one.own]
        self.own_note.setText(
            f"Of your own: {', '.join(own)}. The plan and the recipe take along those that they name." if own else ""
        )
        self.own_note.setVisible(bool(own))
        said = " or ".join(rule_words(rule) for rule in rules)
        self.say(f"widest of {said}" if len(rules) > 1 else said)

    @property
    def known(self) -> dict[str, RuleSet]:
        """Rules that may be chosen, by name: the grower's own and those that the recipe brings along come first."""
        brought = {one.name: one for one in self._draft().recipe.rule_sets}
        own = {**brought, **self._own}
        return {**own, **{name: one for name, one in self._rule_sets().items() if name not in own}}

    @property
    def own_rules(self) -> Mapping[str, RuleSet]:
        """Rules of the grower's own that were opened, by name."""
        return self._own

    def offer_own(self, rules: Mapping[str, RuleSet]) -> None:
        """Offer rules of the grower's own; those that the draft names already are these from now on."""
        self._own |= rules
        draft = self._draft()
        self._change(draft.with_recipe(rule_sets=self._brought(draft.recipe.widths)))
        self.show_draft(self._draft())

    def _brought(self, widths: tuple[WidthRule, ...]) -> tuple[RuleSet, ...]:
        """Return the grower's own rules that are named, which the recipe brings along."""
        known = self.known
        named = dict.fromkeys(rule.rule_set for rule in widths if rule.rule_set in known)
        return tuple(known[name] for name in named if known[name].own)

    def show_widths(self, width_m: Mapping[str, float]) -> None:
        """Say how wide the margin is where its grips are."""
        said = ", ".join(f"{side} {width:.1f} m" for side, width in width_m.items())
        self.here.setText(f"At the handles on the map: {said}." if said else "")

    def _make_form(self, place: int) -> None:
        form = RuleForm(self.known)
        form.changed.connect(lambda rule: self._put(place, rule))
        form.removed.connect(lambda: self._put(place, None))
        self.rules.append(form)
        self._lines.addWidget(form)

    def _put(self, place: int, rule: WidthRule | None) -> None:
        draft = self._draft()
        rules = list(draft.recipe.widths)
        rules[place : place + 1] = [] if rule is None else [rule]
        widths = tuple(rules)
        self._change(draft.with_recipe(widths=widths, rule_sets=self._brought(widths)))

    def _add(self) -> None:
        draft = self._draft()
        self._change(draft.with_recipe(widths=(*draft.recipe.widths, WidthRule(width_m=5.0))))
