"""Where an application pack is put together: parts at the left, its pages in the middle, its bookmarks at the right."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QDialog,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from farmmap.errors import FarmmapError
from farmmap.farm.farm import Farm
from farmmap.files.data_folder import write_data_folder
from farmmap.panels.page_row import PageRow
from farmmap.panels.page_stack import PageStack
from farmmap.plans.planting.keeping.kept import kept_plans
from farmmap.progress import Progress
from farmmap.sheets.pack.compose import PartState, make_pack, part_states
from farmmap.sheets.pack.data import data_of
from farmmap.sheets.pack.options import PackOptions
from farmmap.sheets.pack.parts import PARTS
from farmmap.sheets.page import Document
from farmmap.sheets.subjects import Composed
from farmmap.window.busy_strip import BusyStrip
from farmmap.window.farm_files import FarmFiles
from farmmap.window.jobs import Jobs
from farmmap.window.messages import hint, tell
from farmmap.window.printing.edit_line import EditLine
from farmmap.window.printing.handing_out import HandingOut
from farmmap.window.printing.pack_draft import PackDraft, draft_of, pack_edit
from farmmap.window.printing.pack_form import AboutForm, PackForm, for_window
from farmmap.window.printing.page_bar import PageBar
from farmmap.window.printing.page_maker import PageMaker, SetPage
from farmmap.window.printing.paper_view import ZOOM_STEP, PaperView
from farmmap.window.printing.sides import Warnings, enter_presses_nothing, lay_out_now, scrolled, sentence, single_shot
from farmmap.window.session import Session

COMPOSE_AFTER_MS = 600
FORM_LETTERS = 44
BOOKMARK_LETTERS = 24
"""Width of the form, and of the list of bookmarks. [letters]"""
PDF_ONLY = "PDF (*.pdf)"


@dataclass(frozen=True)
class _PackPages(Composed):
    """Pages of a pack, and what became of each of its parts."""

    states: tuple[PartState, ...]


class PackDialog(QDialog):
    """Shows the pages of a pack while its parts are chosen; writes it as PDF and as data.

    Parameters
    ----------
    session : Session
        The farm and its day.
    jobs : Jobs
        Composes and writes in the background.
    files : FarmFiles
        Keeps the pack with the farm, as it is changed.
    parent : QWidget, optional
        The window.
    """

    def __init__(self, session: Session, jobs: Jobs, files: FarmFiles, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        assert session.farm is not None
        self._session = session
        self._set: SetPage | None = None
        self._number = 0
        self.draft = draft_of(session.farm)
        self.edits = EditLine(session, files)
        self.maker = PageMaker(jobs, self)
        self.handing = HandingOut(jobs, self)
        self.setWindowTitle("Application pack")
        room = self.screen().availableGeometry()
        self.resize(min(1380, room.width() - 40), min(900, room.height() - 60))
        self._make_parts([plan.name for plan in kept_plans(session.farm)])
        self._lay_out()
        self.busy_strip = BusyStrip(jobs, self)
        self._soon = single_shot(self, COMPOSE_AFTER_MS, self._follow)
        self._wire()
        self.form.show_draft(self.draft)
        self.about.show_draft(self.draft)
        self.view.show_words("Putting the pack together …")
        lay_out_now(self)
        self._compose()

    @property
    def is_up_to_date(self) -> bool:
        """Whether the pages that are shown are those of what is chosen now."""
        waits = self._soon.isActive() or self.view.is_stale
        return self._set is not None and self._set.asked == self.draft and not waits

    def _make_parts(self, plans: list[str]) -> None:
        self.form = PackForm(plans)
        self.about = AboutForm()
        self.pages = PageStack(scrolled(self.form), scrolled(self.about))
        self.tabs = PageRow(("Parts", "Who asks for what"), self.pages)
        self.bar = PageBar()
        self.bar.leave_out_steps()
        self.view = PaperView()
        self.bookmarks = QListWidget()
        self.bookmarks.setAccessibleName("Bookmarks")
        self.bookmarks.setWordWrap(True)
        self.told = hint("")
        self.problem = Warnings()
        self.close_button = QPushButton("Close")
        self.data_button = QPushButton("Write data…")
        self.data_button.setToolTip(
            "A folder with a GeoPackage and a CSV file for each table, for those who ask for data"
        )
        self.print_button = QPushButton("Print…")
        self.write_button = QPushButton("Write PDF…")

    def _lay_out(self) -> None:
        side = QWidget()
        left = QVBoxLayout(side)
        left.setContentsMargins(0, 0, 0, 0)
        for part in (self.tabs, self.pages, self.problem, self.told):
            left.addWidget(part, 1 if part is self.pages else 0)
        for row in ((self.data_button, self.write_button), (self.close_button, self.print_button)):
            buttons = QHBoxLayout()
            for button in row:
                buttons.addWidget(button)
            left.addLayout(buttons)
        letter = self.fontMetrics().averageCharWidth()
        side.setFixedWidth(letter * FORM_LETTERS)
        middle = QVBoxLayout()
        middle.addWidget(self.bar)
        middle.addWidget(self.view, 1)
        heading = QLabel("Bookmarks")
        heading.setProperty("heading", True)
        heading.setBuddy(self.bookmarks)
        self.bookmarks.setFixedWidth(letter * BOOKMARK_LETTERS)
        right = QVBoxLayout()
        right.addWidget(heading)
        right.addWidget(self.bookmarks, 1)
        row_of_three = QHBoxLayout(self)
        row_of_three.setSpacing(14)
        row_of_three.addWidget(side)
        row_of_three.addLayout(middle, 1)
        row_of_three.addLayout(right)

    def _wire(self) -> None:
        self.form.changed.connect(self._choose)
        self.form.part_picked.connect(self._go_to_part)
        self.about.changed.connect(self._choose)
        self.view.turn_wanted.connect(self.turn)
        self.view.sharper_wanted.connect(self._paint)
        self.bookmarks.itemActivated.connect(self._go_to)
        self.bookmarks.itemClicked.connect(self._go_to)
        self.maker.made.connect(self._show)
        self.maker.painted.connect(self._show_painted)
        self.maker.refused.connect(self._not_made)
        self.maker.stopped.connect(self._stopped)
        for part in (self.handing, self.edits):
            part.refused.connect(self._refused)
        self.handing.said.connect(self.told.setText)
        self.handing.busy_changed.connect(self._enable_handing)
        self.bar.back_button.clicked.connect(lambda: self.turn(-1))
        self.bar.on_button.clicked.connect(lambda: self.turn(1))
        self.bar.larger_button.clicked.connect(lambda: self.view.zoom(ZOOM_STEP))
        self.bar.smaller_button.clicked.connect(lambda: self.view.zoom(1 / ZOOM_STEP))
        self.bar.whole_button.clicked.connect(self.view.whole_page)
        self.write_button.clicked.connect(
            lambda: self.handing.ask_file(self._folder(), self.draft.pack, self.write, PDF_ONLY)
        )
        self.data_button.clicked.connect(self._ask_folder)
        self.print_button.clicked.connect(self._ask_printer)
        self.close_button.clicked.connect(self.reject)
        enter_presses_nothing(self)

    # What is chosen

    def _choose(self, draft: PackDraft, _kind: str = "") -> None:
        self.draft = draft
        self.form.show_draft(draft)
        self.about.show_draft(draft)
        self._soon.start()

    def _follow(self) -> None:
        self._keep()
        self._compose()

    def _keep(self) -> None:
        """Keep the pack with the farm, unless that may only be looked at."""
        draft = self.draft
        farm = self._session.farm
        if self._session.may_edit and farm is not None and draft_of(farm, draft.pack) != draft:
            self.edits.propose(lambda farm: pack_edit(farm, draft))

    # The pages

    def _compose(self) -> None:
        self._soon.stop()
        farm, on, options, asked = self._session.farm, self._session.on, self._options(), self.draft

        def make(_progress: Progress) -> Composed:
            assert farm is not None
            pack = make_pack(farm, on, options)
            return _PackPages(pack.document, pack.messages, None, part_states(farm, on, options))

        if farm is not None:
            self.maker.compose(asked, make, self._number, self.view.seen, "Putting the pack together")

    def _options(self) -> PackOptions:
        return self.draft.options(None if self._session.path is None else self._session.path.parent)

    def _show(self, done: SetPage) -> None:
        self._set = done
        self._number = done.number
        assert isinstance(done.composed, _PackPages)
        self.form.show_states(done.composed.states)
        self.problem.setText("\n".join(sentence(for_window(words)) for words in done.composed.messages))
        many = len(done.document.pages)
        self.told.setText(f"{done.page.paper.name}, {many} page{'' if many == 1 else 's'}")
        self._fill_bookmarks(done.document)
        self._show_page(done)
        if done.number != self._number:
            self._paint()

    def _show_page(self, done: SetPage) -> None:
        self.view.show_picture(done.page, done.image)
        self.bar.show_number(self._number, len(done.document.pages))
        self._show_bookmark()

    def _show_painted(self, done: SetPage) -> None:
        if self._set is not None and done.composed is self._set.composed and done.number == self._number:
            was_stale = self.view.is_stale
            self._set = done
            self._show_page(done)
            if was_stale:  # painted anew, but still not what was asked for
                self.view.show_stale()

    def _not_made(self, error: BaseException) -> None:
        self.view.show_stale()
        self._refused(error)

    def _stopped(self) -> None:
        self.view.show_stale()
        self.told.setText("Stopped. Change something, and the pack is put together again.")

    def turn(self, way: int) -> None:
        """Show the next page, or the one before."""
        self.go_to_page(self._number + way)

    def go_to_page(self, number: int) -> None:
        """Show a page, from 0."""
        if self._set is not None:
            self._number = min(max(number, 0), len(self._set.document.pages) - 1)
            self.bar.show_number(self._number, len(self._set.document.pages))
            if self._number != self._set.number:
                self._paint()

    def _paint(self) -> None:
        if self._set is not None:
            self.maker.paint(self._set, self._number, self.view.seen)

    # Bookmarks

    def _fill_bookmarks(self, document: Document) -> None:
        """List the bookmarks; if the page at hand began a part, go on with the page that begins it now."""
        before = self.bookmarks.currentItem()
        began = "" if before is None or _page_of(before) != self._number else before.text()
        self.bookmarks.clear()
        for number, page in enumerate(document.pages):
            for mark in page.bookmarks:
                item = QListWidgetItem(f"{'    ' * (mark.level - 1)}{mark.words}")
                item.setData(Qt.ItemDataRole.UserRole, number)
                item.setToolTip(f"{mark.words}, page {number + 1}")
                self.bookmarks.addItem(item)
                if began and item.text() == began:
                    self.bookmarks.setCurrentItem(item)
                    self._number = number

    def _show_bookmark(self) -> None:
        """Show in the list which part the page at hand belongs to."""
        now = self.bookmarks.currentItem()
        if now is not None and _page_of(now) == self._number:
            return
        rows = [row for row in range(self.bookmarks.count()) if self._page_of(row) <= self._number]
        here = [row for row in rows if self._page_of(row) == self._number]
        self.bookmarks.setCurrentRow(here[0] if here else (rows[-1] if rows else -1))

    def _page_of(self, row: int) -> int:
        return _page_of(self.bookmarks.item(row))

    def _go_to(self, item: QListWidgetItem) -> None:
        self.go_to_page(_page_of(item))

    def _go_to_part(self, part: str) -> None:
        """Show the page on which a part begins."""
        title = PARTS[part].title
        for row in range(self.bookmarks.count()):
            if self.bookmarks.item(row).text() == title:
                self.bookmarks.setCurrentRow(row)
                self.go_to_page(self._page_of(row))

    # Handing on

    def write(self, path: Path) -> None:
        """Write the pack as PDF, as it is chosen now."""
        farm, on, options = self._session.farm, self._session.on, self._options()
        there = self._set.document if self._set is not None and self.is_up_to_date else None
        if farm is not None:
            self.handing.write(lambda _progress: there or make_pack(farm, on, options).document, path)

    def write_data(self, folder: Path) -> None:
        """Write the data of the pack into a new folder."""
        farm, on = self._session.farm, self._session.on
        if farm is not None:
            work = partial(_write_data, farm, on, self._options(), folder)
            self.handing.run(work, lambda _: f"The data is in {folder}.", "Writing the data")

    def _ask_folder(self) -> None:
        dialog = QFileDialog(self, "Write data into a folder", str(self._folder() / f"{self.draft.pack} data"))
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setLabelText(QFileDialog.DialogLabel.FileName, "Folder")
        dialog.fileSelected.connect(lambda name: self.write_data(Path(name)))
        dialog.open()

    def _ask_printer(self) -> None:
        if self._set is None or not self.is_up_to_date:
            self.told.setText("The pack is still being put together; try again in a moment.")
        else:
            self.handing.ask_printer(self._set.document)

    def _enable_handing(self, busy: bool) -> None:
        for button in (self.write_button, self.data_button, self.print_button):
            button.setEnabled(not busy)

    def _refused(self, error: BaseException) -> None:
        if isinstance(error, FarmmapError):
            self.problem.setText(sentence(str(error)))
            self.told.setText("")
        else:
            tell(self, error)

    def _folder(self) -> Path:
        return self._session.path.parent if self._session.path is not None else Path.home()

    def done(self, result: int) -> None:
        """Leave, with everything written that is to be kept."""
        if self._soon.isActive():
            self._soon.stop()
            self._keep()
        self.edits.leave()
        super().done(result)


def _page_of(bookmark: QListWidgetItem) -> int:
    return int(bookmark.data(Qt.ItemDataRole.UserRole))


def _write_data(
    farm: Farm, on: dt.date | None, options: PackOptions, folder: Path, _progress: Progress
) -> tuple[str, ...]:
    pack = make_pack(farm, on, options)
    return write_data_folder(folder, data_of(pack.context, pack.tables))
