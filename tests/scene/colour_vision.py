"""How people see colours: what the colour-blind see of them, and how far two are from each other.

Sources: Machado, G. M., Oliveira, M. M., Fernandes, L. A. F. (2009), A physiologically-based model for simulation of
color vision deficiency, IEEE Transactions on Visualization and Computer Graphics 15(6), 1291-1298, matrices of
severity 1.0, for linear RGB. CIEDE2000: Sharma, G., Wu, W., Dalal, E. N. (2005), The CIEDE2000 color-difference
formula: implementation notes, supplementary test data, and mathematical observations, Color Research and Application
30(1), 21-30. sRGB and its white: IEC 61966-2-1 (1999). Both are checked in tests/outside/test_look_values.py.
"""

import functools
import math

import numpy as np

VISION = {
    "usual": np.eye(3),
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritanopia": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
BLIND = tuple(VISION)[1:]

_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
_WHITE = _XYZ.sum(axis=1)


def linear(colour):
    """Return the linear red, green and blue of ``#rrggbb``."""
    part = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    return np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)


def seen(colour, vision):
    """Return linear red, green and blue as somebody of a vision sees a colour."""
    return np.clip(VISION[vision] @ linear(colour), 0.0, 1.0)


def lab(rgb):
    """Return CIE L*, a* and b* of linear red, green and blue."""
    part = (_XYZ @ rgb) / _WHITE
    root = np.where(part > (6 / 29) ** 3, np.cbrt(part), part / (3 * (6 / 29) ** 2) + 4 / 29)
    return 116 * root[1] - 16, 500 * (root[0] - root[1]), 200 * (root[1] - root[2])


@functools.cache
def apart(one, other, vision="usual"):
    """Return the CIEDE2000 distance of two colours as somebody of a vision sees them."""
    return distance(lab(seen(one, vision)), lab(seen(other, vision)))


def distance(one, other):
    """Return the CIEDE2000 distance of two colours given as L*, a* and b*."""
    (l1, a1, b1), (l2, a2, b2) = one, other
    mean7 = ((math.hypot(a1, b1) + math.hypot(a2, b2)) / 2) ** 7
    stretched = 1 + 0.5 * (1 - math.sqrt(mean7 / (mean7 + 25.0**7)))
    c1, c2 = math.hypot(a1 * stretched, b1), math.hypot(a2 * stretched, b2)
    h1, h2 = (math.degrees(math.atan2(b, a * stretched)) % 360 for a, b in ((a1, b1), (a2, b2)))
    turn = 0.0 if c1 * c2 == 0 else (h2 - h1 + 180) % 360 - 180
    if c1 * c2 != 0 and abs(h2 - h1) == 180:
        turn = h2 - h1
    light, chroma = (l1 + l2) / 2, (c1 + c2) / 2
    hue = h1 + h2 if c1 * c2 == 0 else _middle(h1, h2)
    weight = 1 - sum(
        share * math.cos(math.radians(times * hue - shift))
        for share, times, shift in ((0.17, 1, 30), (-0.24, 2, 0), (-0.32, 3, -6), (0.20, 4, 63))
    )
    by_light = (l2 - l1) / (1 + 0.015 * (light - 50) ** 2 / math.sqrt(20 + (light - 50) ** 2))
    by_chroma = (c2 - c1) / (1 + 0.045 * chroma)
    by_hue = 2 * math.sqrt(c1 * c2) * math.sin(math.radians(turn / 2)) / (1 + 0.015 * chroma * weight)
    blue = math.radians(60 * math.exp(-(((hue - 275) / 25) ** 2)))
    crossed = -2 * math.sqrt(chroma**7 / (chroma**7 + 25.0**7)) * math.sin(blue)
    return math.sqrt(by_light**2 + by_chroma**2 + by_hue**2 + crossed * by_chroma * by_hue)


def _middle(one, other):
    if abs(one - other) <= 180:
        return (one + other) / 2
    return (one + other + (360 if one + other < 360 else -360)) / 2
