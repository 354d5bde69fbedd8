"""How large pages are shown, and how sharp their pictures have to be for it."""

from __future__ import annotations

from dataclasses import dataclass

from farmmap.scene.paper import Paper

ROUND_PX = 14
"""Room left round the page. [px]"""
MOST_DOTS = 30_000_000
"""A page's picture has no more dots than that, and comes no closer than it is sharp."""
MOST_PX_PER_MM = 16.0


@dataclass(frozen=True)
class Seen:
    """How large pages are shown; a value, so that work in the background can ask it for a page that is not there yet.

    Attributes
    ----------
    width_px, height_px : int
        Room for the page, and round it. [px]
    dots_per_px : float
        Dots of the screen to a pixel of the window.
    zoom : float or None
        How large a millimetre is shown; None for as large as the whole page has room. [px]
    """

    width_px: int
    height_px: int
    dots_per_px: float
    zoom: float | None = None

    def fitting(self, paper: Paper) -> float:
        """Return how large a millimetre is shown where the whole page is seen. [px]."""
        across = (self.width_px - 2 * ROUND_PX) / paper.width_mm
        return max(min(across, (self.height_px - 2 * ROUND_PX) / paper.height_mm), 0.05)

    def scale(self, paper: Paper) -> float:
        """Return how large a millimetre is shown. [px]."""
        return self.fitting(paper) if self.zoom is None else self.zoom

    def zoomed(self, paper: Paper, times: float) -> float:
        """Return how large a millimetre is to be shown so many times larger, within what is of use. [px]."""
        fits = self.fitting(paper)
        closest = min(_sharpest(paper) / self.dots_per_px, MOST_PX_PER_MM)
        return min(max(self.scale(paper) * times, fits * 0.5), max(fits, closest))

    def dots_per_mm(self, paper: Paper) -> float:
        """Return how many dots to a millimetre the picture of a page should have. [1/mm]."""
        most = min(MOST_PX_PER_MM * self.dots_per_px, _sharpest(paper))
        return min(max(self.scale(paper) * self.dots_per_px, 1.0), most)


def _sharpest(paper: Paper) -> float:
    """Return how many dots to a millimetre the picture of a page may have. [1/mm]."""
    return float((MOST_DOTS / (paper.width_mm * paper.height_mm)) ** 0.5)
