"""What the checks of the looks rest on, beside published values: colour distance, colour-blind vision and contrast."""

import numpy as np
import pytest

from farmmap.scene.styles import contrast
from tests.scene.colour_vision import BLIND, VISION, distance, lab, linear, seen

# Sharma, Wu and Dalal (2005), table 1, written down from memory: L*, a*, b* of two colours and their distance.
SHARMA = [
    ((50, 2.6772, -79.7751), (50, 0, -82.7485), 2.0425),
    ((50, 3.1571, -77.2803), (50, 0, -82.7485), 2.8615),
    ((50, 2.8361, -74.0200), (50, 0, -82.7485), 3.4412),
    ((50, -1.3802, -84.2814), (50, 0, -82.7485), 1.0000),
    ((50, -1.1848, -84.8006), (50, 0, -82.7485), 1.0000),
    ((50, -0.9009, -85.5211), (50, 0, -82.7485), 1.0000),
    ((50, 0, 0), (50, -1, 2), 2.3669),
    ((50, -1, 2), (50, 0, 0), 2.3669),
    ((50, 2.4900, -0.0010), (50, -2.4900, 0.0009), 7.1792),
    ((50, 2.4900, -0.0010), (50, -2.4900, 0.0010), 7.1792),
    ((50, 2.4900, -0.0010), (50, -2.4900, 0.0011), 7.2195),
    ((50, 2.4900, -0.0010), (50, -2.4900, 0.0012), 7.2195),
    ((50, -0.0010, 2.4900), (50, 0.0009, -2.4900), 4.8045),
    ((50, -0.0010, 2.4900), (50, 0.0010, -2.4900), 4.8045),
    ((50, -0.0010, 2.4900), (50, 0.0011, -2.4900), 4.7461),
    ((50, 2.5, 0), (50, 0, -2.5), 4.3065),
    ((50, 2.5, 0), (73, 25, -18), 27.1492),
    ((50, 2.5, 0), (61, -5, 29), 22.8977),
    ((50, 2.5, 0), (56, -27, -3), 31.9030),
    ((50, 2.5, 0), (58, 24, 15), 19.4535),
    ((50, 2.5, 0), (50, 3.1736, 0.5854), 1.0000),
    ((50, 2.5, 0), (50, 3.2972, 0), 1.0000),
    ((50, 2.5, 0), (50, 1.8634, 0.5757), 1.0000),
    ((50, 2.5, 0), (50, 3.2592, 0.3350), 1.0000),
    ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ((63.0109, -31.0961, -5.8663), (62.8187, -29.7946, -4.0864), 1.2630),
    ((61.2901, 3.7196, -5.3901), (61.4292, 2.2480, -4.9620), 1.8731),
    ((35.0831, -44.1164, 3.7933), (35.0232, -40.0716, 1.5901), 1.8645),
    ((22.7233, 20.0904, -46.6940), (23.0331, 14.9730, -42.5619), 2.0373),
    ((36.4612, 47.8580, 18.3852), (36.2715, 50.5065, 21.2231), 1.4146),
    ((90.8027, -2.0831, 1.4410), (91.1528, -1.6435, 0.0447), 1.4441),
    ((90.9257, -0.5406, -0.9208), (88.6381, -0.8985, -0.7239), 1.5381),
    ((6.7747, -0.2908, -2.4247), (5.8714, -0.0985, -2.2286), 0.6377),
    ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
]


@pytest.mark.parametrize(("one", "other", "published"), SHARMA)
def test_colour_distance_is_the_published_one(one, other, published):
    assert distance(one, other) == pytest.approx(published, abs=5e-5)


def test_colour_distance_is_the_same_both_ways():
    assert all(distance(one, other) == pytest.approx(distance(other, one)) for one, other, _ in SHARMA)


def test_white_and_black_are_where_they_must_be():
    assert lab(linear("#FFFFFF")) == pytest.approx((100, 0, 0), abs=1e-3)
    assert lab(linear("#000000")) == pytest.approx((0, 0, 0), abs=1e-3)
    # sRGB's red, from memory of common tables of CIE L*a*b* under D65
    assert lab(linear("#FF0000")) == pytest.approx((53.24, 80.09, 67.20), abs=0.05)


@pytest.mark.parametrize("vision", VISION)
def test_greys_stay_as_they_are_in_every_vision(vision):
    assert VISION[vision].sum(axis=1) == pytest.approx(np.ones(3), abs=2e-6)
    for grey in ("#000000", "#404040", "#808080", "#C0C0C0", "#FFFFFF"):
        assert seen(grey, vision) == pytest.approx(linear(grey), abs=2e-6)


def test_each_blindness_loses_the_colours_that_it_is_named_for():
    def lost(one, other, vision):
        return distance(lab(seen(one, vision)), lab(seen(other, vision))) / distance(
            lab(linear(one)), lab(linear(other))
        )

    red, green = "#C04040", "#408040"
    blue, teal = "#4060C0", "#308080"
    assert all(lost(red, green, vision) < 0.45 for vision in BLIND[:2])
    assert lost(red, green, "tritanopia") > 0.6
    assert lost(blue, teal, "tritanopia") < min(lost(blue, teal, vision) for vision in BLIND[:2])


def test_contrast_is_that_of_the_guidelines():
    # W3C, Web Content Accessibility Guidelines 2.1: 21 to 1 at most; #767676 is the lightest grey of level AA on white.
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert contrast("#767676", "#FFFFFF") >= 4.5 > contrast("#777777", "#FFFFFF")
