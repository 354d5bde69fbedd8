"""A small calculator for measured logs: volume by three rules, with bark and without."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from PySide6.QtWidgets import QFormLayout, QHBoxLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from farmmap.panels.answer_label import AnswerLabel
from farmmap.panels.wrapped_label import WrappedLabel

FIELDS = (
    ("length_m", "Length", "m"),
    ("large_cm", "Diameter at the large end", "cm"),
    ("mid_cm", "Diameter half way", "cm"),
    ("small_cm", "Diameter at the small end", "cm"),
    ("bark_cm", "Bark, one side; empty: none", "cm"),
    ("logs", "Logs of that size", ""),
)
RULES = (
    ("Huber", ("mid_cm",), "from the middle"),
    ("Smalian", ("large_cm", "small_cm"), "from both ends"),
    ("Newton", ("large_cm", "mid_cm", "small_cm"), "from both ends and the middle"),
)


class LogCalculator(QWidget):
    """Fields for one log, and its volumes beneath as they are typed."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        form = QFormLayout()
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        self.fields: dict[str, QLineEdit] = {}
        for name, words, unit in FIELDS:
            field = QLineEdit()
            field.setAccessibleName(f"{words} in {unit}" if unit else words)
            field.textChanged.connect(lambda _text: self._work_out())
            row = QHBoxLayout()
            row.addWidget(field, 1)
            if unit:
                row.addWidget(QLabel(unit))
            form.addRow(f"{words}:", row)
            self.fields[name] = field
        self.answer, self.trouble = WrappedLabel(), AnswerLabel()
        rules = WrappedLabel(
            "Huber is right for cylinders and paraboloids, Smalian too large on flared butts, Newton right for every "
            "even solid. Diameters over bark; the volume under bark takes the bark off on both sides."
        )
        rules.setProperty("quiet", True)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 8, 0, 0)
        column.addLayout(form)
        column.addWidget(self.trouble)
        column.addWidget(self.answer)
        column.addWidget(rules)
        column.addStretch(1)
        self.fields["logs"].setText("1")

    def _work_out(self) -> None:
        from farmmap.plans.harvest.logs import huber_m3, newton_m3, smalian_m3, under_bark_cm

        values = {name: _read(field.text()) for name, field in self.fields.items()}
        bad = []
        for name, words, _ in FIELDS:
            field = self.fields[name]
            is_bad = math.isnan(values[name]) and bool(field.text().strip())
            if is_bad:
                bad.append(f"{words.split(',', 1)[0]}: '{field.text().strip()}' is no number; write it such as 42.5.")
            field.setProperty("bad", is_bad)
            field.style().unpolish(field)
            field.style().polish(field)
        self.trouble.say(" ".join(bad), warning=True)
        length, logs = values["length_m"], values["logs"]
        rules: dict[str, Callable[..., Any]] = {"Huber": huber_m3, "Smalian": smalian_m3, "Newton": newton_m3}
        lines = []
        for name, needs, words in RULES:
            over = [values[one] for one in needs]
            volume = float(rules[name](*over, length)) * logs
            if math.isnan(volume):
                continue
            line = f"{name}, {words}: {volume:.4f} m³"
            if values["bark_cm"] > 0:
                under = [under_bark_cm(one, values["bark_cm"]) for one in over]
                line += f" over bark, {float(rules[name](*under, length)) * logs:.4f} m³ under bark"
            lines.append(line)
        self.answer.setText("\n".join(lines) or "Give a length and at least the diameter half way, or both ends.")


def _read(text: str) -> float:
    """Return the number that was typed, with point or comma; nan for none and for one below nought."""
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        return float("nan")
    return value if 0 <= value < 1e6 else float("nan")
