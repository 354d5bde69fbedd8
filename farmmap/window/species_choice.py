"""A list to choose a species from, by name and code; another may be typed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QComboBox, QWidget

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm

LEAST_CHARACTERS = 12


class SpeciesChoice(QComboBox):
    """Shows names, gives codes.

    Parameters
    ----------
    farm : Farm
        Its species, and those of its trees, are offered.
    code : str
        The species that it stands on at first; "" for none.
    """

    def __init__(self, farm: Farm, code: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setEditable(True)
        self.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(LEAST_CHARACTERS)
        for known, words in species_of(farm):
            self.addItem(words, known)
        place = self.findData(code)
        self.setCurrentIndex(place)
        if place < 0:
            self.setEditText(code)
        line = self.lineEdit()
        assert line is not None
        line.setCursorPosition(0)

    @property
    def code(self) -> str:
        """Code of the species that it stands on, or what was typed."""
        text = self.currentText().strip()
        place = self.findText(text)
        return str(self.itemData(place)) if place >= 0 else text


def species_of(farm: Farm) -> list[tuple[str, str]]:
    """Return code and words of the species that a farm knows, by their words: ``tōtara (PTOT)``."""
    named = {str(code): str(name) for code, name in zip(farm.species["code"], farm.species["name"], strict=True)}
    for code in farm.trees["species"].unique():
        named.setdefault(str(code), "")
    known = {code: f"{name} ({code})" if name else code for code, name in named.items() if code}
    return sorted(known.items(), key=lambda item: item[1].casefold())
