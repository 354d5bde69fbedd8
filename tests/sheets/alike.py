"""Whether two pictures show the same drawing, edges of strokes and fills aside."""

from dataclasses import dataclass

import numpy as np
import pypdfium2
from numpy.typing import NDArray
from PySide6.QtGui import QImage
from scipy import ndimage

Dots = NDArray[np.int16]
"""Red, green and blue, shape (height, width, 3)."""

_SOFTER = 0.7
"""Both pictures are made so much softer first, as thin strokes are shaded over one dot or over two. [dots]"""

FAR = 20
"""Two colours differ when one of their parts does by more than this, of 255."""


@dataclass(frozen=True)
class Difference:
    """How two pictures differ.

    Attributes
    ----------
    share : float
        Of all dots, those that are not to be found in the other picture within a dot of their place.
    most : float
        The same of the worst square of a millimetre and a half.
    """

    share: float
    most: float


def difference(one: Dots, other: Dots, dots_per_mm: float) -> Difference:
    """Compare two pictures.

    A dot is found in the other picture where its colour lies between the
    lightest and the darkest of the three by three dots there, a little beyond
    them included. So it does not matter where an edge falls within its dot,
    or how its dots are shaded; something that is missing, lies elsewhere or
    has another colour does.

    Parameters
    ----------
    one, other : ndarray of int16, shape (height, width, 3)
        The pictures, of the same size but for a dot at the right and lower edges.
    dots_per_mm : float
        Their resolution.
    """
    high, wide = (min(sides) for sides in zip(one.shape[:2], other.shape[:2], strict=True))
    assert max(one.shape[0], other.shape[0]) - high <= 1
    assert max(one.shape[1], other.shape[1]) - wide <= 1
    one, other = one[:high, :wide], other[:high, :wide]
    one, other = (ndimage.gaussian_filter(dots, (_SOFTER, _SOFTER, 0)) for dots in (one, other))
    lost = ~(_found(one, other) & _found(other, one))
    side = max(round(1.5 * dots_per_mm), 3)
    return Difference(float(lost.mean()), float(ndimage.uniform_filter(lost.astype(np.float32), side).max()))


def _found(one: Dots, other: Dots) -> NDArray[np.bool_]:
    around = (3, 3, 1)
    low, high = ndimage.minimum_filter(other, around), ndimage.maximum_filter(other, around)
    found: NDArray[np.bool_] = ((one >= low - FAR) & (one <= high + FAR)).all(axis=2)
    return found


def paper_picture(path: object, dots_per_inch: float, page: int = 0) -> Dots:
    """Return a page of a PDF as an independent library paints it."""
    shown = pypdfium2.PdfDocument(str(path))[page].render(scale=dots_per_inch / 72, rev_byteorder=True)
    return shown.to_numpy()[..., :3].astype(np.int16)


def dots_of(image: QImage) -> Dots:
    """Return the dots of a picture."""
    plain = image.convertToFormat(QImage.Format.Format_RGB888)
    rows = np.frombuffer(plain.constBits(), np.uint8).reshape(plain.height(), plain.bytesPerLine())
    return rows[:, : plain.width() * 3].reshape(plain.height(), plain.width(), 3).astype(np.int16)
