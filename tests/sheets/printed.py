"""What stands on the pages of a PDF, read by an independent library, in millimetres from the upper left corner."""

import ctypes
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pypdfium2
from pypdfium2 import raw

MM = 25.4 / 72


@dataclass(frozen=True)
class Word:
    """A run of text and the rectangle around it. [mm]."""

    text: str
    left: float
    top: float
    right: float
    bottom: float

    @property
    def middle(self) -> float:
        return (self.left + self.right) / 2


class PrintedPage:
    """One page of a file."""

    def __init__(self, page: pypdfium2.PdfPage) -> None:
        self._page = page
        self.width_mm, self.height_mm = (side * MM for side in page.get_size())

    @cached_property
    def paths(self) -> list[np.ndarray]:
        """Corners of every path, each of shape (n, 2)."""
        found = self._page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH], max_depth=1)
        return [self._corners(one) for one in found]

    @cached_property
    def corners(self) -> np.ndarray:
        """Corners of all paths, shape (n, 2)."""
        return np.concatenate(self.paths)

    @cached_property
    def strokes(self) -> np.ndarray:
        """Ends of paths of one straight stroke, shape (n, 4)."""
        return np.array([path.ravel() for path in self.paths if len(path) == 2]).reshape(-1, 4)

    @cached_property
    def _letters(self) -> list[Word]:
        text = self._page.get_textpage()
        said = text.get_text_range()
        boxes = [text.get_charbox(place) for place in range(text.count_chars())]
        return [
            Word(letter, left * MM, self.height_mm - high * MM, right * MM, self.height_mm - low * MM)
            for letter, (left, low, right, high) in zip(said, boxes, strict=True)
            if not letter.isspace()
        ]

    def words_between(self, top: float, bottom: float, gap_mm: float) -> list[Word]:
        """Runs of letters on a line of text between two heights, parted where a gap is wider than so much."""
        line = sorted((one for one in self._letters if top < one.top and one.bottom < bottom), key=lambda one: one.left)
        found: list[Word] = []
        for letter in line:
            if found and letter.left - found[-1].right < gap_mm:
                last = found[-1]
                found[-1] = Word(last.text + letter.text, last.left, last.top, letter.right, last.bottom)
            else:
                found.append(letter)
        return found

    def _corners(self, path: pypdfium2.PdfObject) -> np.ndarray:
        a, b, c, d, e, f = path.get_matrix().get()
        points = []
        x, y = ctypes.c_float(), ctypes.c_float()
        for place in range(raw.FPDFPath_CountSegments(path)):
            raw.FPDFPathSegment_GetPoint(raw.FPDFPath_GetPathSegment(path, place), x, y)
            points.append((a * x.value + c * y.value + e, b * x.value + d * y.value + f))
        made = np.array(points).reshape(-1, 2) * MM
        return np.column_stack([made[:, 0], self.height_mm - made[:, 1]])


def printed_pages(path: object) -> list[PrintedPage]:
    """Return the pages of a file."""
    return [PrintedPage(page) for page in pypdfium2.PdfDocument(str(path))]
