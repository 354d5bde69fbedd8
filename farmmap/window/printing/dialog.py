"""Where a sheet is composed: the choices at the left, the page as it will be at the right."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QDialog, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from farmmap.editing.kept_sheets import kept_sheets
from farmmap.errors import FarmmapError
from farmmap.farm.farm import Farm
from farmmap.panels.page_row import PageRow
from farmmap.panels.page_stack import PageStack
from farmmap.progress import Progress
from farmmap.scene.page_moves import Moved
from farmmap.sheets.chosen import WHOLE_FARM, SheetChoices, read
from farmmap.sheets.page import Document, SheetOptions
from farmmap.sheets.subjects import SUBJECTS, Composed, Subject, compose_chosen, title_of
from farmmap.window.busy_strip import BusyStrip
from farmmap.window.farm_files import FarmFiles
from farmmap.window.jobs import Jobs
from farmmap.window.messages import hint, tell
from farmmap.window.printing.contents_form import ContentsForm
from farmmap.window.printing.elements import element_called
from farmmap.window.printing.handing_out import HandingOut
from farmmap.window.printing.history import ChoicesHistory
from farmmap.window.printing.keeping import SheetKeeper
from farmmap.window.printing.kept_form import KeptForm
from farmmap.window.printing.page_bar import PageBar
from farmmap.window.printing.page_maker import PageMaker, SetPage
from farmmap.window.printing.page_view import PageView
from farmmap.window.printing.paper_view import ZOOM_STEP
from farmmap.window.printing.sheet_form import SheetForm, scale_words
from farmmap.window.printing.sides import Warnings, enter_presses_nothing, lay_out_now, scrolled, sentence, single_shot
from farmmap.window.session import Session

if TYPE_CHECKING:  # brought in when somebody prints
    from PySide6.QtPrintSupport import QPrinter

COMPOSE_AFTER_MS = 200
PATIENCE_MS = 500
"""After so long it is said that the page is being set. [ms]"""
FORM_LETTERS = 42
"""Width of the form. [letters]"""
HOW_TO = "Click something on the page to pick it, then drag it or its corners. Tab and the arrow keys do the same."
PLACES_DROPPED = "Places of your own were dropped, as the paper is another. Ctrl+Z brings them back."


class PrintDialog(QDialog):
    """Shows the page while it is composed, writes and prints it, and keeps it with the farm.

    Parameters
    ----------
    session : Session
        The farm, its day, and what is hidden on the map.
    jobs : Jobs
        Composes and writes in the background.
    files : FarmFiles
        Writes what is kept into the farm.
    parent : QWidget, optional
        The window.
    first : SheetChoices, optional
        What is printed at first; the whole farm if not given.
    """

    def __init__(
        self,
        session: Session,
        jobs: Jobs,
        files: FarmFiles,
        parent: QWidget | None = None,
        *,
        first: SheetChoices | None = None,
    ) -> None:
        super().__init__(parent)
        assert session.farm is not None
        self._session = session
        self._usual = SheetChoices(options=SheetOptions(hidden=session.hidden))
        self._set: SetPage | None = None
        self._number = 0
        self._note = ""
        begun = self._usual if first is None else replace(self._usual, what=first.what, of=first.of)
        self.history = ChoicesHistory(begun)
        self.keeper = SheetKeeper(session, files)
        self.maker = PageMaker(jobs, self)
        self.handing = HandingOut(jobs, self)
        self.setWindowTitle("Print map")
        room = self.screen().availableGeometry()
        self.resize(min(1380, room.width() - 40), min(900, room.height() - 60))
        self._make_parts()
        self._lay_out()
        self.busy_strip = BusyStrip(jobs, self)
        self._soon = single_shot(self, COMPOSE_AFTER_MS, self._compose)
        self._waiting = single_shot(self, PATIENCE_MS, lambda: self.told.setText("Setting the page …"))
        self._wire()
        self._show_choices()
        self.view.show_words("Setting the page …")
        lay_out_now(self)
        self._compose()

    @property
    def choices(self) -> SheetChoices:
        """What is chosen now."""
        return self.history.now

    @property
    def is_up_to_date(self) -> bool:
        """Whether the page that is shown is that of what is chosen now."""
        waits = self._soon.isActive() or self.view.is_stale
        return self._set is not None and self._set.asked == self.choices and not waits

    # How it is put together

    def _make_parts(self) -> None:
        assert self._session.farm is not None
        self.form = SheetForm(self._session.farm, self._session.hidden)
        self.contents = ContentsForm()
        self.kept = KeptForm(self._session, self.keeper)
        self.pages = PageStack(*(scrolled(page) for page in (self.form, self.contents, self.kept)))
        self.tabs = PageRow(("Sheet", "On the page", "Kept"), self.pages)
        self.bar = PageBar()
        self.view = PageView()
        self.told = hint("")
        self.problem = Warnings()
        self.place_words = hint(" ")
        self.close_button = QPushButton("Close")
        self.write_button = QPushButton("Write file…")
        self.write_button.setToolTip("Write PDF, picture or drawing for the web")
        self.print_button = QPushButton("Print…")

    def _lay_out(self) -> None:
        side = QWidget()
        left = QVBoxLayout(side)
        left.setContentsMargins(0, 0, 0, 0)
        left.addWidget(self.tabs)
        left.addWidget(self.pages, 1)
        left.addWidget(self.problem)
        left.addWidget(self.told)
        buttons = QHBoxLayout()
        for button in (self.close_button, self.write_button, self.print_button):
            buttons.addWidget(button)
        left.addLayout(buttons)
        side.setFixedWidth(self.fontMetrics().averageCharWidth() * FORM_LETTERS)
        right = QVBoxLayout()
        right.addWidget(self.bar)
        right.addWidget(self.view, 1)
        right.addWidget(self.place_words)
        row = QHBoxLayout(self)
        row.setSpacing(14)
        row.addWidget(side)
        row.addLayout(right, 1)

    def _wire(self) -> None:
        self.form.changed.connect(self._choose)
        self.form.refused.connect(lambda error: self.problem.setText("" if error is None else str(error)))
        self.contents.changed.connect(self._choose)
        self.contents.picked.connect(self.view.pick)
        self.view.picked.connect(self._picked)
        self.view.described.connect(lambda _words: self._say(self._note))
        self.view.put.connect(self._put)
        self.view.leave_out_wanted.connect(self.leave_out)
        self.view.turn_wanted.connect(self.turn)
        self.view.sharper_wanted.connect(self._paint)
        self.maker.made.connect(self._show)
        self.maker.painted.connect(self._show_painted)
        self.kept.keep_wanted.connect(self._keep)
        self.kept.rename_wanted.connect(self.keeper.rename)
        self.kept.taken_up.connect(self.take_up)
        self.kept.remove_wanted.connect(self.keeper.remove)
        self.keeper.changed.connect(self._kept_changed)
        self.maker.refused.connect(self._not_made)
        self.maker.stopped.connect(self._stopped)
        for part in (self.handing, self.keeper):
            part.refused.connect(self._refused)
        self.handing.said.connect(self.told.setText)
        self.handing.busy_changed.connect(self._enable_handing)
        bar = self.bar
        bar.undo_button.clicked.connect(self.undo)
        bar.redo_button.clicked.connect(self.redo)
        bar.anew_button.clicked.connect(self.arrange_anew)
        bar.back_button.clicked.connect(lambda: self.turn(-1))
        bar.on_button.clicked.connect(lambda: self.turn(1))
        bar.larger_button.clicked.connect(lambda: self.view.zoom(ZOOM_STEP))
        bar.smaller_button.clicked.connect(lambda: self.view.zoom(1 / ZOOM_STEP))
        bar.whole_button.clicked.connect(self.view.whole_page)
        self.write_button.clicked.connect(lambda: self.handing.ask_file(self._folder(), self._title(), self.write))
        self.print_button.clicked.connect(self._ask_printer)
        self.close_button.clicked.connect(self.reject)
        enter_presses_nothing(self)
        for keys, does in (("Ctrl+Z", self.undo), ("Ctrl+Y", self.redo), ("Ctrl+Shift+Z", self.redo)):
            QShortcut(QKeySequence(keys), self, does)

    # What is chosen

    def _choose(self, choices: SheetChoices, kind: str = "") -> None:
        before, note = self.choices, ""
        if (choices.what, choices.of) != (before.what, before.of):
            choices = choices.with_options(moved=(), left_out=frozenset())  # other pages have other elements
            if choices.what != before.what:
                choices = choices.with_options(beside=False)
            self._number = 0
        elif _paper(choices) != _paper(before) and choices.options.moved == before.options.moved != ():
            choices = choices.with_options(moved=())
            note = PLACES_DROPPED
        if self.history.change(choices, kind):
            self._say(note)
            self._follow()

    def _say(self, note: str) -> None:
        """Say something below the page until something else is done or picked."""
        self._note = note
        self.place_words.setText(note or self.view.words() or (HOW_TO if self.view.may_arrange else " "))

    def _picked(self, name: str) -> None:
        self._note = ""
        self.contents.show_picked(name)

    def _follow(self) -> None:
        """Show what is chosen now, keep it, and compose it soon."""
        self._show_choices()
        if self.keeper.is_kept:
            self.keeper.follow(self.choices)
        elif self.choices.is_by_hand and self._session.may_edit:
            self.keeper.keep(self.choices, self._title(), exactly=False)
        self._soon.start()

    def _show_choices(self) -> None:
        self.form.show_choices(self.choices)
        self.contents.show_choices(self.choices)
        self.contents.show_elements(self.view.elements, has_map=self.view.has_map)
        self.bar.undo_button.setEnabled(self.history.can_undo)
        self.bar.redo_button.setEnabled(self.history.can_redo)
        self.bar.anew_button.setEnabled(bool(self.choices.options.moved))

    def undo(self) -> None:
        """Take the last step back."""
        self.history.undo()
        self._follow_step()

    def redo(self) -> None:
        """Do again what was taken back last."""
        self.history.redo()
        self._follow_step()

    def _follow_step(self) -> None:
        self.view.forget_asked()
        self._say("")
        self._follow()

    def _put(self, moved: Moved) -> None:
        choices = self.choices.with_moved(moved)
        if choices.options.landscape is None and self._set is not None:
            # else what is put somewhere on one page could turn it round
            choices = choices.with_options(landscape=self._set.page.paper.is_landscape)
        self._choose(choices, f"put {moved.name}")

    def leave_out(self, name: str) -> None:
        """Leave an element out of the page."""
        element = element_called(self.view.elements, name)
        if element is None:
            return
        if element.stays:
            self._say(f"{element.words}: this stays on every page.")
            return
        self._choose(self.choices.with_options(left_out=self.choices.options.left_out | {name}))
        self._say(f"{element.words} is left out. To bring it back, tick it under “On the page”, or press Ctrl+Z.")

    def arrange_anew(self) -> None:
        """Drop all places that were chosen by hand."""
        self.view.forget_asked()
        self._choose(self.choices.with_options(moved=()))

    # Kept sheets

    def _keep(self, name: str) -> None:
        self.keeper.keep(self.choices, name.strip() or self._title(), exactly=bool(name.strip()))

    def take_up(self, sheet: int) -> None:
        """Go on with a kept sheet, by its row; with a new one for 0."""
        farm = self._session.farm
        kept = None if farm is None else next((one for one in kept_sheets(farm) if one.id == sheet), None)
        if kept is not None and kept.trouble:
            self._refused(FarmmapError(f"{kept.trouble}; it can only be removed"))
            return
        choices, notes = (self._usual, ()) if kept is None else read(kept.choices)
        self.history.begin_with(choices)
        self.keeper.take_up(0 if kept is None else kept.id)
        self._number = 0
        self.view.forget_asked()
        self._show_choices()
        self._compose()
        if kept is not None and notes:
            self._say(f"{kept.name}: {'; '.join(notes)}.")

    def _kept_changed(self) -> None:
        name = self.keeper.name
        self.setWindowTitle(f"Print map – {name}" if name else "Print map")

    def _title(self) -> str:
        assert self._session.farm is not None
        if self._set is not None and self.is_up_to_date:
            return self._set.document.title
        return self.choices.options.title or title_of(self._session.farm, self.choices)

    # The page

    def _compose(self) -> None:
        self._soon.stop()
        self._waiting.start()
        farm, on, asked = self._session.farm, self._session.on, self._for_farm()
        if farm is not None:
            make = partial(_compose, farm, on, asked)
            words = "" if self._subject.arranged else "Setting the pages"
            self.maker.compose(self.choices, make, self._number, self.view.seen, words)

    @property
    def _subject(self) -> Subject:
        return SUBJECTS.get(self.choices.what, SUBJECTS[WHOLE_FARM])

    def _for_farm(self) -> SheetChoices:
        """Return the choices with the folder in which the farm's pictures are looked for."""
        path = self._session.path
        return self.choices.with_options(folder=None if path is None else path.parent)

    def _show(self, done: SetPage) -> None:
        """Show a page that was composed."""
        self._waiting.stop()
        self._set = done
        self._number = min(self._number, len(done.document.pages) - 1)
        if self.form.trouble is None:
            self.problem.setText("\n".join(sentence(words) for words in done.composed.messages))
        self.told.setText(_told(done.composed))
        if not self.choices.options.title:
            self.form.show_title(done.document.title)
        self._show_page(done)
        if done.number != self._number:
            self._paint()

    def _not_made(self, error: BaseException) -> None:
        """Say why a page cannot be made; what is shown is not what was asked for."""
        self.view.show_stale()
        self._refused(error)

    def _stopped(self) -> None:
        self._waiting.stop()
        self.view.show_stale()
        self.told.setText("Stopped. Change something, and the pages are set again.")

    def _show_painted(self, done: SetPage) -> None:
        if self._set is not None and done.composed is self._set.composed and done.number == self._number:
            was_stale = self.view.is_stale
            self._set = done
            self._show_page(done)
            if was_stale:  # painted anew, but still not what was asked for
                self.view.show_stale()

    def _show_page(self, done: SetPage) -> None:
        assert isinstance(done.asked, SheetChoices)
        may_arrange = bool(done.page.maps) and self._subject.arranged
        self.view.show_page(done.page, done.image, may_arrange=may_arrange, moved=done.asked.options.moved)
        self.contents.show_elements(self.view.elements, has_map=self.view.has_map)
        self.bar.show_number(self._number, len(done.document.pages))
        self._say(self._note)

    def turn(self, way: int) -> None:
        """Show the next page, or the one before."""
        if self._set is not None:
            self._number = min(max(self._number + way, 0), len(self._set.document.pages) - 1)
            self.bar.show_number(self._number, len(self._set.document.pages))
            if self._number != self._set.number:
                self._paint()

    def _paint(self) -> None:
        """Paint the page at hand anew, as it is another, or is shown larger."""
        if self._set is not None:
            self.maker.paint(self._set, self._number, self.view.seen)

    # Handing on

    def write(self, path: Path) -> None:
        """Write the pages as they are chosen now."""
        farm, on = self._session.farm, self._session.on
        if self.form.trouble is not None or farm is None:
            self._refused(self.form.trouble or FarmmapError("No farm is open any more"))
            return
        there = self._set.document if self._set is not None and self.is_up_to_date else None
        asked = self._for_farm()

        def pages(progress: Progress) -> Document:
            return there or _compose(farm, on, asked, progress).document

        self.handing.write(pages, path)

    def _ask_printer(self) -> None:
        if self.form.trouble is not None:
            self._refused(self.form.trouble)
        elif self._set is None or not self.is_up_to_date:
            self.told.setText("The page is still being set; try again in a moment.")
        else:
            self.handing.ask_printer(self._set.document)

    def print_on(self, printer: QPrinter) -> None:
        """Print the pages that are shown on a printer."""
        if self._set is not None:
            self.handing.print_on(self._set.document, printer)

    def _enable_handing(self, busy: bool) -> None:
        self.write_button.setEnabled(not busy)
        self.print_button.setEnabled(not busy)

    def _refused(self, error: BaseException) -> None:
        self._waiting.stop()
        if isinstance(error, FarmmapError):
            self.problem.setText(sentence(str(error)))
            self.told.setText("")
        else:
            tell(self, error)

    def _folder(self) -> Path:
        return self._session.path.parent if self._session.path is not None else Path.home()

    def done(self, result: int) -> None:
        """Leave, with everything written that is to be kept."""
        self.keeper.leave()
        super().done(result)


def _compose(farm: Farm, on: dt.date | None, asked: SheetChoices, _progress: Progress) -> Composed:
    return compose_chosen(farm, on, asked)


def _told(composed: Composed) -> str:
    """Say what the pages are, such as ``A4 lying, 1:5000, 3 pages``."""
    paper, many = composed.document.pages[0].paper, len(composed.document.pages)
    way = "lying" if paper.is_landscape else "upright"
    scale = () if composed.scale is None else (scale_words(composed.scale),)
    return ", ".join((f"{paper.name} {way}", *scale, *((f"{many} pages",) if many > 1 else ())))


def _paper(choices: SheetChoices) -> tuple[str, bool | None]:
    return choices.options.paper, choices.options.landscape
