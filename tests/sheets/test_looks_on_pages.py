"""A page of the sample of everything in each look: the grey one has no colour, survives a copy, and is a drawing."""

import datetime as dt
import re

import numpy as np
import pikepdf
import pytest

from farmmap.drawing.stamps import pixels_of
from farmmap.scene.styles import LOOKS
from farmmap.sheets.sheet import SheetOptions, compose
from farmmap.sheets.write import page_picture, write_sheet

ON = dt.date(2025, 1, 1)
COPIES_BLACK = 128


def sheet_in(farm, look):
    return compose(farm, ON, SheetOptions(paper="A4", look=look, scale=2500, printed_on=ON))


@pytest.fixture(scope="module")
def pictures(hill_farm):
    out = {}
    for look in LOOKS:
        image = page_picture(sheet_in(hill_farm, look).pages[0], 150)
        dots = pixels_of(image)
        out[look] = np.stack([(dots >> shift) & 255 for shift in (16, 8, 0)], axis=-1).astype(int)
    return out


def test_the_grey_page_has_no_colour_and_the_others_have(pictures):
    spread = {look: np.ptp(picture, axis=-1) for look, picture in pictures.items()}
    assert spread["grey"].max() <= 2
    assert all((spread[look] > 40).mean() > 0.005 for look in ("colour", "safe"))


def test_the_grey_page_is_mostly_black_and_white(pictures):
    grey = pictures["grey"][..., 0]
    assert ((grey < 16) | (grey > 239)).mean() > 0.85


def test_a_copy_of_the_grey_page_keeps_its_words_and_lines(pictures):
    ink = {look: (picture.mean(axis=-1) < COPIES_BLACK).mean() for look, picture in pictures.items()}
    assert 0.02 < ink["grey"] < 0.3
    drawn = (pictures["grey"][..., 0] < 200).mean()
    assert ink["grey"] > 0.6 * drawn


def test_hatches_are_strokes_in_the_pdf(hill_farm, tmp_path):
    strokes = {}
    for look in ("colour", "grey"):
        sheet = sheet_in(hill_farm, look)
        write_sheet(sheet, tmp_path / f"{look}.pdf")
        with pikepdf.open(tmp_path / f"{look}.pdf") as pdf:
            content = pdf.pages[0].Contents
            words = b"".join(
                part.read_bytes() for part in (content if isinstance(content, pikepdf.Array) else [content])
            )
            strokes[look] = len(re.findall(rb" l\b", words))
            images = [one for one in pdf.objects if isinstance(one, pikepdf.Stream) and one.get("/Subtype") == "/Image"]
        assert not images
    assert strokes["grey"] > strokes["colour"] + 100
