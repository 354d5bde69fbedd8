"""The pack put together: parts that were chosen, each with its words, flowing down numbered pages."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace

from farmmap.drawing.fonts import text_width_mm
from farmmap.editing.pack_parts import KeptPart, kept_parts
from farmmap.editing.words import listed
from farmmap.farm.day_words import in_words
from farmmap.farm.farm import Farm
from farmmap.plans.planting.keeping.kept import KEPT
from farmmap.scene.page_flow import Contents, Flowing, FlowPage, flow
from farmmap.scene.page_flow_map import MapRoom
from farmmap.scene.page_flow_text import Heading, Paragraph, Title
from farmmap.scene.paper import Paper, paper_of
from farmmap.scene.sheet_layout import page_type
from farmmap.scene.styles import Theme
from farmmap.sheets.asked import look_of
from farmmap.sheets.lettering import not_written
from farmmap.sheets.pack.context import PackContext, context_of
from farmmap.sheets.pack.options import PackOptions
from farmmap.sheets.pack.pack_table import PackTable
from farmmap.sheets.pack.parts import PARTS, part_key
from farmmap.sheets.page import Bookmark, Document, MapOnPage, Page, SheetOptions
from farmmap.sheets.page_words import not_shown

DOT = "   ·   "
MOST_OF_NAME = 60
"""Letters of the farm's name at the foot of pages."""

FOLLOWS = "+"
"""Words of the grower's own that begin so stand behind farmmap's, not in their place."""

KEYWORDS = ("farm forestry", "planting plan", "grant application")


@dataclass(frozen=True, eq=False)
class Pack:
    """A pack, ready to be written.

    Attributes
    ----------
    document : Document
        Its pages.
    messages : tuple of str
        What the person who asked for it should know.
    tables : tuple of PackTable
        Every table in it.
    context : PackContext
        What its parts draw from.
    """

    document: Document
    messages: tuple[str, ...]
    tables: tuple[PackTable, ...]
    context: PackContext


@dataclass(frozen=True)
class PartState:
    """A part as a pack has it.

    Attributes
    ----------
    key, title, about : str
        Which part it is, and what is in it.
    taken : bool
        Whether it is chosen.
    lacks : str
        Why it cannot be made now; "" if it can.
    text : str
        The grower's own words; "" for farmmap's.
    """

    key: str
    title: str
    about: str
    taken: bool
    lacks: str
    text: str


def compose_pack(farm: Farm, on: dt.date | None, options: PackOptions) -> Document:
    """Return the pages of a pack; `make_pack` gives its messages and tables as well."""
    return make_pack(farm, on, options).document


def make_pack(farm: Farm, on: dt.date | None = None, options: PackOptions | None = None) -> Pack:
    """Put a pack together.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        Day that figures hold for; None for that of the newest measurement.
    options : PackOptions, optional
        What was chosen.

    Raises
    ------
    BadInput
        There is no such plan, part, paper or look.
    """
    options = options or PackOptions()
    look = look_of(SheetOptions(paper=options.paper, landscape=False, look=options.look))
    paper = paper_of(options.paper, landscape=False)
    pack = context_of(farm, on, options, look)
    states = _states(pack)
    title = options.title or _title(pack)
    things: list[Flowing] = [Title(title, tuple(_below(pack))), Contents()]
    tables: list[PackTable] = []
    for state in states:
        if state.taken and not state.lacks:
            things += _part(pack, state, tables)
    numbered = _numbered(things)
    pages = flow(numbered, paper, page_type(paper, look, text_width_mm), _foot(pack))
    about = (
        f"{options.pack} of {farm.settings.name}: {listed([state.title.lower() for state in states if state.taken])}"
    )
    document = Document(
        title,
        about,
        farm,
        tuple(_page(page, paper, look) for page in pages),
        KEYWORDS,
        options.author or options.applicant,
    )
    messages = (*_messages(pack, states), *not_written(document))
    return Pack(document, messages, tuple(tables), pack)


def part_states(farm: Farm, on: dt.date | None, options: PackOptions) -> tuple[PartState, ...]:
    """Return every part in the order in which it is printed, those that are not chosen last.

    Raises
    ------
    BadInput
        There is no such plan or part.
    """
    look = look_of(SheetOptions(paper=options.paper, landscape=False, look=options.look))
    return _states(context_of(farm, on, options, look))


def _states(pack: PackContext) -> tuple[PartState, ...]:
    farm, options = pack.farm, pack.options
    kept = {one.part: one for one in kept_parts(farm, options.pack) if one.part in PARTS}
    texts = {part_key(word): text for word, text in options.texts.items()}
    chosen = [part_key(word) for word in options.parts] if options.parts is not None else _chosen(kept)
    order = [*dict.fromkeys(chosen), *(key for key in PARTS if key not in chosen)]
    return tuple(
        PartState(
            key, PARTS[key].title, PARTS[key].about, key in chosen, PARTS[key].lacks(pack),
            texts.get(key, kept[key].text if key in kept else ""),
        )
        for key in order
    )  # fmt: skip


def _chosen(kept: dict[str, KeptPart]) -> list[str]:
    """Parts that the farm keeps as taken, in their order; all if it keeps none."""
    if not kept:
        return list(PARTS)
    taken = sorted((one for one in kept.values() if one.taken), key=lambda one: one.place)
    return [one.part for one in taken]


def _title(pack: PackContext) -> str:
    names = listed([one.plan.name for one in pack.plans])
    return f"{names}, {pack.farm.settings.name}" if names else pack.farm.settings.name


def _below(pack: PackContext) -> Iterator[str]:
    chosen = pack.options
    yield DOT.join(part for part in (chosen.pack, chosen.scheme, chosen.reference) if part)
    yield DOT.join(
        part
        for part in (
            chosen.applicant,
            f"figures of {in_words(pack.day)}",
            f"printed {in_words(pack.printed)}",
            f"version {chosen.version}" if chosen.version else "",
        )
        if part
    )


def _foot(pack: PackContext) -> str:
    version = f"version {pack.options.version}" if pack.options.version else f"printed {in_words(pack.printed)}"
    name = pack.farm.settings.name
    short = name if len(name) <= MOST_OF_NAME else f"{name[: MOST_OF_NAME - 1].rstrip()}…"
    return DOT.join((short, pack.options.pack, version))


def _part(pack: PackContext, state: PartState, tables: list[PackTable]) -> Iterator[Flowing]:
    """Yield a part's heading, its words, and what stands in it; its tables are put down as well."""
    part = PARTS[state.key]
    yield Heading(part.title)
    own = state.text.strip()
    intro = part.intro(pack)
    words = (
        own
        if own and not own.startswith(FOLLOWS)
        else "\n\n".join(filter(None, (intro, own.removeprefix(FOLLOWS).strip())))
    )
    if words:
        yield Paragraph(words, with_next=True)
    for thing in part.things(pack):
        if not isinstance(thing, PackTable):
            yield thing
        elif thing:
            tables.append(thing)
            yield from thing.printed()


def _numbered(things: list[Flowing]) -> list[Flowing]:
    """Return things with their maps numbered: Map 1 of 3."""
    count = sum(isinstance(thing, MapRoom) for thing in things)
    out, number = [], 0
    for thing in things:
        if isinstance(thing, MapRoom):
            number += 1
            thing = replace(thing, caption=f"Map {number} of {count}.  {thing.caption}", name=f"map {number}")  # noqa: PLW2901
        out.append(thing)
    return out


def _page(page: FlowPage, paper: Paper, look: Theme) -> Page:
    maps = tuple(MapOnPage(one.frame, one.view, one.scene, one.over_map, one.name) for one in page.maps)
    marks = tuple(Bookmark(place.words, place.level, place.y) for place in page.places)
    return Page(paper, look, maps, page.boxes, marks)


def _messages(pack: PackContext, states: tuple[PartState, ...]) -> Iterator[str]:
    reasons: dict[str, list[str]] = {}
    for state in states:
        if state.taken and state.lacks:
            reasons.setdefault(state.lacks, []).append(state.title)
    for reason, titles in reasons.items():
        yield f"Left out: {', '.join(titles)}, as {reason}"
    for one in pack.plans:
        there = int((pack.farm.trees["plan"] == one.kept.name).sum())
        if one.kept.state != KEPT and there != len(one.plan.plants):
            yield (
                f"{one.kept.name} is {one.kept.state} with {there:,} plants on the farm; made again from its recipe "
                f"for this pack it has {len(one.plan.plants):,}, as the farm was changed since"
            )
    yield from not_shown(pack.backdrops, frozenset())
