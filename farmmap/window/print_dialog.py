"""Printing the map: paper, scale and title at the left, the page as it will be at the right."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from PySide6.QtCore import QRectF, QSize, Qt, QTimer
from PySide6.QtGui import QImage, QPainter, QPaintEvent, QPalette, QPen
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDialog,
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from farmmap.errors import FarmmapError
from farmmap.farm.farm import Farm
from farmmap.plans.planting.keeping.kept import kept_plans
from farmmap.progress import Progress
from farmmap.scene.paper import PAPERS
from farmmap.sheets.page import Sheet, SheetOptions
from farmmap.sheets.plan_sheet import compose_kept
from farmmap.sheets.sheet import compose
from farmmap.sheets.write import page_picture, write_sheet
from farmmap.window.jobs import Jobs
from farmmap.window.messages import CAUTION, hint, tell
from farmmap.window.session import Session

SCALES = (500, 1000, 2000, 2500, 5000, 10_000, 20_000, 25_000)
PREVIEW_DOTS_PER_INCH = 90.0
_AS_LARGE = "As large as fits"
_WHOLE_FARM = "The whole farm"
_WAYS = (("Whichever shows the farm larger", None), ("Lying", True), ("Upright", False))


class PagePreview(QWidget):
    """The page, as large as there is room."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.image: QImage | None = None
        self.setAccessibleName("The page as it will be printed")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def sizeHint(self) -> QSize:
        """Large enough to see what is where."""
        return QSize(520, 480)

    def show_page(self, image: QImage) -> None:
        """Show a page."""
        self.image = image
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: ARG002 - the whole page is painted
        """Paint the page in the middle."""
        if self.image is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        shrunk = min((self.width() - 4) / self.image.width(), (self.height() - 4) / self.image.height())
        wide, high = self.image.width() * shrunk, self.image.height() * shrunk
        page = QRectF((self.width() - wide) / 2, (self.height() - high) / 2, wide, high)
        painter.drawImage(page, self.image)
        painter.setPen(QPen(self.palette().color(QPalette.ColorRole.Mid), 1))
        painter.drawRect(page)
        painter.end()


class PrintDialog(QDialog):
    """Shows the page while its choices are made, and writes it as PDF or picture."""

    def __init__(self, session: Session, jobs: Jobs, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        assert session.farm is not None
        self._farm, self._on, self._hidden = session.farm, session.on, session.hidden
        self._plans = [plan.name for plan in kept_plans(session.farm)]
        self._folder = session.path.parent if session.path is not None else Path.home()
        self._jobs = jobs
        self.setWindowTitle("Print map")
        self.resize(980, 640)
        self._make_fields()
        self.preview = PagePreview()
        self.told = hint("")
        self.problem = hint("", warning=True)
        self.write_button = QPushButton("Write the page…")
        self.write_button.setDefault(True)
        self.write_button.clicked.connect(self._choose_path)
        self.close_button = QPushButton("Close")
        self.close_button.clicked.connect(self.reject)
        self._lay_out()
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(250)
        self._pause.timeout.connect(self._compose)
        self._compose()

    def options(self) -> SheetOptions:
        """Return what is chosen.

        Raises
        ------
        FarmmapError
            The scale is no number.
        """
        return SheetOptions(
            paper=self.paper.currentText(),
            landscape=self.way.currentData(),
            scale=self._scale(),
            title=self.title.text().strip() or None,
            hidden=self._hidden if self.as_shown.isChecked() else frozenset(),
            folder=self._folder,
        )

    def _make_fields(self) -> None:
        self.what = QComboBox()
        self.what.addItem(_WHOLE_FARM, "")
        for name in self._plans:
            self.what.addItem(f"Planting plan: {name}", name)
        self.title = QLineEdit(self._farm.settings.name)
        self.paper = QComboBox()
        self.paper.addItems(list(PAPERS))
        self.way = QComboBox()
        for words, way in _WAYS:
            self.way.addItem(words, way)
        self.scale = QComboBox()
        self.scale.setEditable(True)
        self.scale.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.scale.addItem(_AS_LARGE)
        self.scale.addItems([f"1:{scale}" for scale in SCALES])
        self.as_shown = QCheckBox("Leave out what is hidden on the map")
        self.as_shown.setChecked(True)
        self.as_shown.setEnabled(bool(self._hidden))
        self.what.currentIndexChanged.connect(self._entitle)
        self.title.textChanged.connect(self._change)
        self.paper.currentIndexChanged.connect(self._change)
        self.way.currentIndexChanged.connect(self._change)
        self.scale.currentTextChanged.connect(self._change)
        self.as_shown.toggled.connect(self._change)

    def _lay_out(self) -> None:
        form = QFormLayout()
        if self._plans:
            form.addRow("What is printed", self.what)
        form.addRow("Title", self.title)
        form.addRow("Paper", self.paper)
        form.addRow("Lying or upright", self.way)
        form.addRow("Scale", self.scale)
        left = QVBoxLayout()
        left.addLayout(form)
        left.addWidget(self.as_shown)
        left.addWidget(self.told)
        left.addWidget(self.problem)
        left.addStretch(1)
        left.addWidget(hint(CAUTION))
        buttons = QHBoxLayout()
        buttons.addStretch(1)
        buttons.addWidget(self.close_button)
        buttons.addWidget(self.write_button)
        left.addLayout(buttons)
        row = QHBoxLayout(self)
        row.addLayout(left, 2)
        row.addWidget(self.preview, 3)

    def _scale(self) -> int | None:
        text = self.scale.currentText().strip()
        if text in {"", _AS_LARGE}:
            return None
        digits = text.removeprefix("1:").replace(" ", "").replace("\u202f", "").replace(",", "")
        if not digits.isascii() or not digits.isdigit():
            raise FarmmapError(f"'{text}' is not a scale; write it as 1:5000")
        return int(digits)

    def _entitle(self) -> None:
        """Give the page the name of what is printed, unless it has a title of the grower's own."""
        if self.title.text().strip() in {"", self._farm.settings.name, *self._plans}:
            self.title.setText(self.what.currentData() or self._farm.settings.name)
        self._change()

    def _change(self) -> None:
        self._pause.start()

    def _compose(self) -> None:
        try:
            options = self.options()
        except FarmmapError as error:
            self._refused(error)
            return
        farm, on, plan = self._farm, self._on, self.what.currentData()

        def work_out(_progress: Progress) -> tuple[Sheet, QImage]:
            sheet = _composed(farm, on, plan, options)
            return sheet, page_picture(sheet.pages[0], PREVIEW_DOTS_PER_INCH)

        self._jobs.start("sheet preview", work_out, self._show, self._refused, owner=self)

    def _show(self, answer: tuple[Sheet, QImage]) -> None:
        sheet, image = answer
        self.problem.setText("\n".join(sheet.messages))
        paper = sheet.plan.paper
        way = "lying" if paper.width_mm > paper.height_mm else "upright"
        pages = "; two pages, the first is shown" if sheet.second else ""
        self.told.setText(f"{paper.name} {way}, 1:{sheet.plan.scale}{pages}")
        self.preview.show_page(image)

    def _choose_path(self) -> None:
        name = f"{self.title.text().strip() or 'map'}.pdf"
        dialog = QFileDialog(self, "Write the page", str(self._folder / name), "PDF (*.pdf);;Picture (*.png)")
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix("pdf")
        dialog.fileSelected.connect(lambda path: self.write(Path(path)))
        dialog.open()

    def write(self, path: Path) -> None:
        """Write the page as it is chosen now."""
        try:
            options = self.options()
        except FarmmapError as error:
            self._refused(error)
            return
        farm, on, plan = self._farm, self._on, self.what.currentData()

        def work_out(_progress: Progress) -> Path:
            write_sheet(_composed(farm, on, plan, options), path)
            return path

        self.write_button.setEnabled(False)
        self._jobs.start(
            "sheet", work_out, self._written, self._refused, "Writing the page", self, stopped=self._stopped
        )

    def _written(self, path: Path) -> None:
        self.write_button.setEnabled(True)
        self.told.setText(f"The page is in {path}.")

    def _stopped(self) -> None:
        self.write_button.setEnabled(True)
        self.told.setText("Stopped; no page was written.")

    def _refused(self, error: BaseException) -> None:
        self.write_button.setEnabled(True)
        if isinstance(error, FarmmapError):
            self.problem.setText(str(error))
        else:
            tell(self, error)


def _composed(farm: Farm, on: dt.date | None, plan: str, options: SheetOptions) -> Sheet:
    """Return the page of a planting plan, or that of the whole farm for ""."""
    return compose_kept(farm, on, plan, options) if plan else compose(farm, on, options)
