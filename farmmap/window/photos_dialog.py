"""Photographs of a farm, by photo point: to add, to date and to name, before and after beside each other."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QIcon, QImage
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListView,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from farmmap.errors import FarmmapError
from farmmap.farm.day_words import in_words
from farmmap.progress import Progress
from farmmap.window.farm_files import FarmFiles
from farmmap.window.jobs import Jobs
from farmmap.window.messages import hint, tell
from farmmap.window.photo_thumbs import THUMB, icon_of, read_thumbs
from farmmap.window.session import Session

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    from farmmap.editing.proposed import Proposed
    from farmmap.farm.farm import Farm
    from farmmap.files.photos import Photo

FILES = "Photographs (*.jpg *.jpeg *.png);;All files (*)"
EMPTY = (
    "There are no photographs yet. Draw photo points with the Draw tool, or add photographs: one that says where it "
    "was taken gets a photo point there. Files stay where they are; keep them in the farm's folder so that they move "
    "with it."
)
NO_POINT = "Without a photo point"
_ID = Qt.ItemDataRole.UserRole


class PhotosDialog(QDialog):
    """Photo points at the left; photographs from the one that is chosen at the right, oldest first."""

    def __init__(self, session: Session, files: FarmFiles, jobs: Jobs, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self._files, self._jobs = session, files, jobs
        self._following = False
        self._found: tuple[Photo, ...] = ()
        self.setWindowTitle("Photographs")
        self.resize(900, 620)
        self._make_fields()
        self._lay_out()
        self.points.currentItemChanged.connect(lambda _item, _before: self._show_photos())
        self.photos.currentItemChanged.connect(lambda _item, _before: self._show_chosen())
        self.add_button.clicked.connect(lambda: self._ask_for_files("Add photographs", self.add, several=True))
        self.where_button.clicked.connect(
            lambda: self._ask_for_files("Where the photograph is now", lambda paths: self.found(paths[0]))
        )
        self.remove_button.clicked.connect(self._remove)
        self.close_button.clicked.connect(self.accept)
        self.caption.editingFinished.connect(lambda: self._write({"caption": self.caption.text().strip()}))
        self.taken_on.editingFinished.connect(lambda: self._write({"taken_on": self.taken_on.text().strip()}))
        self.point.activated.connect(lambda _place: self._write({"photo_point": self.point.currentData()}))
        session.farm_changed.connect(self._follow)
        session.may_edit_changed.connect(self._follow)
        self._follow()

    def add(self, paths: Sequence[Path]) -> None:
        """Add photographs to the photo point that is chosen, or to those where they were taken."""
        farm, folder, point = self._session.farm, self._folder(), self._point_id()
        if farm is None or not paths:
            return

        def look(_progress: Progress) -> Proposed:
            from farmmap.editing.photos import photos_added

            return photos_added(farm, paths, folder, point=point)

        def show(proposed: Proposed) -> None:
            rows = proposed.edit.changes["photos"].after
            first = int(rows.index[0])
            self._carry_out(proposed, lambda: self._select(int(rows["photo_point"].iloc[0]), first))

        self.add_button.setEnabled(False)
        self.said.setText("")
        words = f"Looking at {paths[0].name}" if len(paths) == 1 else f"Looking at {len(paths)} photographs"
        self._jobs.start("photographs", look, show, self._refused, words, self, stopped=self._follow)

    def found(self, path: Path) -> None:
        """Take a file for that of the photograph that is chosen."""
        farm, row = self._session.farm, self._photo_id()
        if farm is None or row is None:
            return
        from farmmap.editing.photos import photo_found

        try:
            proposed = photo_found(farm, row, path, self._folder())
        except FarmmapError as error:
            self._refused(error)
            return
        self._carry_out(proposed)

    # How it is done

    def _make_fields(self) -> None:
        self.points = QListWidget()
        self.points.setAccessibleName("Photo points")
        self.photos = QListWidget()
        self.photos.setAccessibleName("Photographs")
        self.photos.setViewMode(QListView.ViewMode.IconMode)
        self.photos.setIconSize(THUMB)
        self.photos.setGridSize(QSize(THUMB.width() + 16, THUMB.height() + 3 * self.fontMetrics().height() + 12))
        self.photos.setResizeMode(QListView.ResizeMode.Adjust)
        self.photos.setMovement(QListView.Movement.Static)
        self.photos.setWordWrap(True)
        self.caption = QLineEdit()
        self.caption.setPlaceholderText("What it shows")
        self.taken_on = QLineEdit()
        self.taken_on.setPlaceholderText("such as 2026-05-31")
        self.point = QComboBox()
        self.file = QLabel()
        self.file.setWordWrap(True)
        self.file.setTextFormat(Qt.TextFormat.PlainText)
        self.file.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.view = hint("")
        self.how = hint("")
        self.trouble = hint("", warning=True)
        self.said = hint("", warning=True)
        self.nothing = hint(EMPTY)
        self.add_button = QPushButton("Add photographs…")
        self.add_button.setToolTip("JPEG or PNG; those with a place of their own get a photo point there")
        self.remove_button = QPushButton("Take out")
        self.remove_button.setToolTip("Takes it out of the farm; its file stays where it is")
        self.where_button = QPushButton("Choose where it is now…")
        self.where_button.setToolTip("For a file that was moved or given another name; caption and day stay")
        self.close_button = QPushButton("Close")
        for button in (self.add_button, self.remove_button, self.where_button, self.close_button):
            button.setAutoDefault(False)

    def _lay_out(self) -> None:
        form = QFormLayout()
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        for words, field in (
            ("Caption", self.caption),
            ("Taken on", self.taken_on),
            ("Photo point", self.point),
            ("File", self.file),
        ):
            form.addRow(words, field)
            field.setAccessibleName(words)
        self.chosen = QWidget()
        chosen = QVBoxLayout(self.chosen)
        chosen.setContentsMargins(0, 0, 0, 0)
        chosen.addLayout(form)
        chosen.addWidget(self.trouble)
        chosen.addWidget(self.where_button, 0, Qt.AlignmentFlag.AlignLeft)
        right = QVBoxLayout()
        right.addWidget(self.view)
        right.addWidget(self.photos, 1)
        right.addWidget(self.chosen)
        middle = QHBoxLayout()
        middle.addWidget(self.points, 1)
        middle.addLayout(right, 3)
        row = QHBoxLayout()
        row.addWidget(self.add_button)
        row.addWidget(self.remove_button)
        row.addStretch(1)
        row.addWidget(self.close_button)
        column = QVBoxLayout(self)
        column.addWidget(self.nothing)
        column.addLayout(middle, 1)
        column.addWidget(self.how)
        column.addWidget(self.said)
        column.addLayout(row)

    def _folder(self) -> Path | None:
        return None if self._session.path is None else self._session.path.parent

    def _point_id(self) -> int:
        """Return the photo point that is chosen, 0 for none."""
        item = self.points.currentItem()
        return 0 if item is None else int(item.data(_ID))

    def _photo_id(self) -> int | None:
        item = self.photos.currentItem()
        return None if item is None else int(item.data(_ID))

    def _follow(self) -> None:
        """Show the farm's photographs as they are now, staying on the one that was chosen."""
        farm = self._session.farm
        if farm is None:
            self.reject()
            return
        from farmmap.files.photos import photos_of
        from farmmap.scene.page_photos import how_to_words

        chosen, point = self._photo_id(), self._point_id() if self.points.count() else None
        self._found = photos_of(farm, self._folder())
        self.how.setText(how_to_words(farm))
        self._fill_points(farm)
        may_edit = self._session.may_edit
        self.add_button.setEnabled(may_edit)
        self.nothing.setVisible(not self._found)
        self._select(point, chosen)

    def _fill_points(self, farm: Farm) -> None:
        self._following = True
        rows = farm.tables["photo_points"]
        known = set(rows.index.tolist())
        lines = [(int(row), str(name)) for row, name in rows["name"].items()]
        self.points.clear()
        self.point.clear()
        self.point.addItem("none", 0)
        counts = dict.fromkeys((0, *known), 0)
        for photo in self._found:
            counts[photo.point if photo.point in known else 0] += 1
        if counts[0] or not lines:
            lines.append((0, NO_POINT))
        for row, name in lines:
            item = QListWidgetItem(f"{name}  ({counts[row]})")
            item.setData(_ID, row)
            self.points.addItem(item)
            if row:
                self.point.addItem(name, row)
        self._following = False

    def _select(self, point: int | None, photo: int | None) -> None:
        """Choose a photo point, and a photograph from it."""
        places = [place for place in range(self.points.count()) if self.points.item(place).data(_ID) == point]
        self.points.setCurrentRow(places[0] if places else 0)
        self._show_photos()
        there = [place for place in range(self.photos.count()) if self.photos.item(place).data(_ID) == photo]
        if there:
            self.photos.setCurrentRow(there[0])

    def _of_point(self) -> list[Photo]:
        farm, point = self._session.farm, self._point_id()
        if farm is None:
            return []
        known = set(farm.tables["photo_points"].index.tolist())
        return [photo for photo in self._found if (photo.point if photo.point in known else 0) == point]

    def _show_photos(self) -> None:
        farm = self._session.farm
        if self._following or farm is None:
            return
        from farmmap.files.photos import before_and_after

        shown, point = self._of_point(), self._point_id()
        self.view.setText(_view_words(farm, point))
        self.view.setVisible(bool(self.view.text()))
        pair = before_and_after(shown) if point else None
        roles = dict(zip(pair or (), ("Before", "After"), strict=False))
        self._following = True
        self.photos.clear()
        empty = self._icon(QImage())
        for place, photo in enumerate(shown):
            words = _words(photo, roles.get(place, ""))
            item = QListWidgetItem(empty, words)
            item.setData(_ID, photo.id)
            item.setToolTip(photo.trouble or photo.caption)
            self.photos.addItem(item)
        self._following = False
        if shown:
            self.photos.setCurrentRow(0)
        self._show_chosen()
        self._read_thumbs([photo.path for photo in shown])

    def _icon(self, image: QImage) -> QIcon:
        return icon_of(image, self.palette().placeholderText().color(), self.devicePixelRatioF())

    def _read_thumbs(self, paths: list[Path]) -> None:
        def show(images: list[QImage]) -> None:
            if [photo.path for photo in self._of_point()] != paths or self.photos.count() != len(images):
                return
            for place, image in enumerate(images):
                self.photos.item(place).setIcon(self._icon(image))

        if paths:
            dots = self.devicePixelRatioF()
            self._jobs.start("small photographs", lambda _progress: read_thumbs(paths, dots), show, owner=self)

    def _chosen_photo(self) -> Photo | None:
        row = self._photo_id()
        return next((photo for photo in self._found if photo.id == row), None)

    def _show_chosen(self) -> None:
        if self._following:
            return
        photo, may_edit = self._chosen_photo(), self._session.may_edit
        self.chosen.setVisible(photo is not None)
        self.remove_button.setEnabled(photo is not None and may_edit)
        for field in (self.caption, self.taken_on, self.point):
            field.setEnabled(may_edit)
        if photo is None:
            return
        self._following = True
        self.caption.setText(photo.caption)
        self.taken_on.setText("" if photo.taken_on is None else photo.taken_on.isoformat())
        self.point.setCurrentIndex(max(self.point.findData(photo.point), 0))
        size = "" if photo.file is None else f"  ({photo.file.width} × {photo.file.height} dots)"
        self.file.setText(f"{photo.path}{size}")
        self.trouble.setText(photo.trouble)
        self.trouble.setVisible(bool(photo.trouble))
        self.where_button.setVisible(bool(photo.trouble) and may_edit)
        self._following = False

    def _write(self, values: Mapping[str, object]) -> None:
        """Give the photograph that is chosen other values, if they are other."""
        farm, photo = self._session.farm, self._chosen_photo()
        if self._following or farm is None or photo is None or not self._session.may_edit:
            return
        now = {
            "caption": photo.caption,
            "taken_on": "" if photo.taken_on is None else photo.taken_on.isoformat(),
            "photo_point": photo.point,
        }
        changed = {name: value for name, value in values.items() if now[name] != value}
        if not changed:
            return
        from farmmap.editing.photos import photo_changed

        try:
            proposed = photo_changed(farm, photo.id, changed)
        except FarmmapError as error:
            self._refused(error)
            return
        self._carry_out(proposed)

    def _remove(self) -> None:
        farm, row = self._session.farm, self._photo_id()
        if farm is None or row is None:
            return
        from farmmap.editing.photos import photos_removed

        self._carry_out(photos_removed(farm, [row]))

    def _carry_out(self, proposed: Proposed, done: Callable[[], None] | None = None) -> None:
        self.said.setText("\n".join(proposed.notes))
        self._files.carry_out(proposed.edit, done, self._refused, self)

    def _ask_for_files(self, title: str, then: Callable[[list[Path]], None], *, several: bool = False) -> None:
        dialog = QFileDialog(self, title, str(self._folder() or Path.home()), FILES)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        mode = QFileDialog.FileMode
        dialog.setFileMode(mode.ExistingFiles if several else mode.ExistingFile)
        dialog.filesSelected.connect(lambda names: then([Path(name) for name in names]))
        dialog.open()

    def _refused(self, error: BaseException) -> None:
        self._follow()
        if isinstance(error, FarmmapError):
            self.said.setText(str(error))
        else:
            tell(self, error)


def _words(photo: Photo, role: str) -> str:
    day = "" if photo.taken_on is None else in_words(photo.taken_on)
    head = ", ".join(part for part in (role, day) if part) or photo.path.name
    return f"{head}\n{photo.caption}".rstrip()


def _view_words(farm: Farm, point: int) -> str:
    from farmmap.scene.page_photos import view_words

    rows = farm.tables["photo_points"]
    if point not in rows.index:
        return ""
    row = rows.loc[point]
    words = view_words(float(row["bearing_deg"]), float(row["height_m"]))
    said = [words[:1].upper() + words[1:], str(row["note"])]
    return ". ".join(part.rstrip(".") for part in said if part)
