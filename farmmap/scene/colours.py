"""Colours that are told apart, and reckoning with colours written ``#rrggbb``: contrast, mixtures, ink on a fill."""

from __future__ import annotations

OKABE_ITO = ("#E69F00", "#56B4E9", "#009E73", "#F0E442", "#0072B2", "#D55E00", "#CC79A7")
"""Seven colours that people of every colour vision tell apart; black, the eighth, is kept for outlines.

Source: Okabe, M., Ito, K. (2008), Color Universal Design: how to make figures
and presentations that are friendly to colorblind people.
"""

YELLOW = "#F0E442"
"""Too pale for lines and letters; only ever a fill."""

UNKNOWN_COLOUR = "#666666"
"""A grey that none of the seven is taken for, in any colour vision."""


def contrast(one: str, other: str) -> float:
    """Contrast of two colours, 1 to 21.

    Source: W3C, Web Content Accessibility Guidelines 2.1, definition of contrast ratio; level AA asks 4.5 for text
    and 3 for the outlines of things.
    """
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def mixed(fill: str, opacity: float, ground: str) -> str:
    """Colour of a see-through fill on a ground, ``#RRGGBB``."""
    parts = [
        round(opacity * over + (1 - opacity) * under) for over, under in zip(_parts(fill), _parts(ground), strict=True)
    ]
    return "#{:02X}{:02X}{:02X}".format(*parts)


def ink_on(fill: str) -> str:
    """Black or white, whichever reads better on a fill."""
    return max(("#000000", "#FFFFFF"), key=lambda ink: contrast(ink, fill))


def _parts(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def _luminance(colour: str) -> float:
    linear = [part / 255 / 12.92 if part / 255 <= 0.03928 else ((part / 255 + 0.055) / 1.055) ** 2.4
              for part in _parts(colour)]  # fmt: skip
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
