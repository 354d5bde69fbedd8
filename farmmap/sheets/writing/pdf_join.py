"""One page of a PDF out of the several that Qt painted for it, at the exact size of its paper."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from itertools import zip_longest

import pikepdf
from pikepdf import Array, Dictionary, Name, Object, Pdf, Stream

from farmmap.drawing.pdf_forms import DOTS_PER_MM, Content, Form, form_name, opacity_name
from farmmap.scene.paper import Paper
from farmmap.scene.styles import POINT_MM

_BOXES = ("/MediaBox", "/CropBox", "/TrimBox", "/BleedBox", "/ArtBox")
_OF_255 = 255
_PACKED = 4  # of 9: of the quick ones the one that packs best


def join_pages(pdf: Pdf, papers: Sequence[Paper], contents: Sequence[Sequence[Content]], forms: Sequence[Form]) -> None:
    """Make one page of each run of pages that belong together.

    Parameters
    ----------
    pdf : Pdf
        As Qt wrote it.
    papers : sequence of Paper
        One a page of the document.
    contents : sequence of sequence of Content
        For each page of the document, what comes after the first of Qt's pages, after the second, and so on, in
        units of 1 / `DOTS_PER_MM` mm from the upper left corner, downwards.
    forms : sequence of Form
        The forms that they use.
    """
    named = _Named(pdf, forms)
    painted = [page.obj for page in pdf.pages]
    for number, (paper, between) in enumerate(zip(papers, contents, strict=True), 1):
        run, painted = painted[: len(between) + 1], painted[len(between) + 1 :]
        _join(pdf, run, between, paper, named)
        del pdf.pages[number : number + len(between)]


class _Named:
    """Forms and graphics states in the file, each written once."""

    def __init__(self, pdf: Pdf, forms: Sequence[Form]) -> None:
        self._pdf = pdf
        self._forms = {form_name(number): form for number, form in enumerate(forms)}
        self._written: dict[str, Object] = {}

    def add_to(self, resources: Object, content: Content) -> None:
        """Put what some content calls by name into the resources of its page or form."""
        for name in sorted(content.uses):
            _part(resources, "/XObject")[f"/{name}"] = self._form(name)
        for opacity in sorted(content.opacities):
            _part(resources, "/ExtGState")[f"/{opacity_name(opacity)}"] = self._state(opacity)

    def _form(self, name: str) -> Object:
        if name not in self._written:
            form = self._forms[name]
            resources = Dictionary()
            self.add_to(resources, form.content)
            made = _stream(self._pdf, form.content.words)
            made.Type, made.Subtype, made.Resources = Name.XObject, Name.Form, resources
            made.BBox = Array([round(side, 2) for side in form.box])
            if form.is_group:
                made.Group = Dictionary(Type=Name.Group, S=Name.Transparency, I=True)
            self._written[name] = made
        return self._written[name]

    def _state(self, opacity: int) -> Object:
        name = opacity_name(opacity)
        if name not in self._written:
            share = round(opacity / _OF_255, 4)
            self._written[name] = self._pdf.make_indirect(Dictionary(Type=Name.ExtGState, ca=share, CA=share))
        return self._written[name]


def _join(pdf: Pdf, run: Sequence[Object], between: Sequence[Content], paper: Paper, named: _Named) -> None:
    """Make the first page of a run the whole page; Qt's size is rounded to whole points, and measured from below."""
    page = run[0]
    wide, high = paper.width_mm / POINT_MM, paper.height_mm / POINT_MM
    rounded = float(page.MediaBox[3]) - float(page.MediaBox[1])
    step = 1 / (DOTS_PER_MM * POINT_MM)
    downwards = f"\nQ q {step:.9f} 0 0 {-step:.9f} 0 {rounded:.5f} cm\n".encode()
    contents: list[Object] = [_stream(pdf, f"q 1 0 0 1 0 {high - rounded:.5f} cm q\n".encode())]
    for painted, ours in zip_longest(run, between):
        contents.append(painted.Contents)
        if ours is not None:
            contents.append(_stream(pdf, downwards + ours.words + b"Q q\n"))
            named.add_to(page.Resources, ours)
    page.Contents = Array([*contents, _stream(pdf, b"\nQ Q")])
    for more in run[1:]:
        for kind, entries in more.Resources.items():
            if isinstance(entries, pikepdf.Dictionary):
                for name, entry in entries.items():
                    _part(page.Resources, kind)[name] = entry
    for font in page.Resources.get("/Font", Dictionary()).values():
        _name_as_a_part(font)
    for box in _BOXES:
        if box == "/MediaBox" or box in page:
            page[box] = Array([0, 0, round(wide, 5), round(high, 5)])


def _name_as_a_part(font: Object) -> None:
    """Call a font as its description does, with the letters before its name that say it holds only what is used."""
    for inner in font.get("/DescendantFonts", ()):
        name = inner.FontDescriptor.FontName
        inner.BaseFont = font.BaseFont = name


def _part(resources: Object, kind: str) -> Object:
    if kind not in resources:
        resources[kind] = Dictionary()
    return resources[kind]


def _stream(pdf: Pdf, words: bytes) -> Stream:
    packed = zlib.compress(words, _PACKED)
    if len(packed) >= len(words):
        return Stream(pdf, words)
    made = Stream(pdf, packed)
    made.Filter = Name.FlateDecode
    return made
