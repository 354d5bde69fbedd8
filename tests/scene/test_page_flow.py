"""What flows down pages: nothing is lost or cut, and what belongs together stays together."""

from dataclasses import dataclass, field
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.scene.page_flow import FOOT_MM, SIDE_MM, TOP_MM, Contents, Piece, Stays, flow
from farmmap.scene.page_flow_map import Chart, MapRoom, Pictures, Shot
from farmmap.scene.page_flow_table import LEAST_ROWS, Row, Table
from farmmap.scene.page_flow_text import Bullets, Fields, Heading, PageBreak, Paragraph, Title
from farmmap.scene.page_items import Box, Picture, Shape, Text
from farmmap.scene.page_north import North
from farmmap.scene.paper import paper_of
from farmmap.scene.sheet_layout import page_type
from farmmap.scene.styles import theme

A4 = paper_of("A4", landscape=False)
TYPE = page_type(A4, theme("paper"), lambda text, style: 0.5 * style.size_mm * len(text))
BOTTOM = A4.height_mm - FOOT_MM
WIDTH = A4.width_mm - 2 * SIDE_MM


def pages_of(*things, foot="Pipit Downs"):
    return flow(things, A4, TYPE, foot)


def texts(page, *, foot=False):
    items = [item for box in page.boxes if (box.name == "foot") == foot for item in box.items]
    return [item for item in items if isinstance(item, Text)]


def said(page, *, foot=False):
    return [item.text for item in texts(page, foot=foot)]


def table(rows, *, ruled=frozenset(), foot=False, words=("name", "what it is for")):
    made = [Row((f"row {at}", f"{at}", words[1]), ruled=at in ruled) for at in range(rows)]
    made += [Row(("All", "9", ""), strong=True)] if foot else []
    return Table("Zones", (("Name",), ("Plants",), ("For",)), frozenset({0, 2}), tuple(made))


@dataclass(frozen=True)
class Block:
    """A thing of one piece."""

    height: float
    needs: float = 0.0
    items: tuple = field(default=(Text(0, 3, "block", TYPE.body),))

    def pieces(self, type_, width, height):
        return (Piece(self.height, self.items, above=5.0, needs=self.needs),)


def test_every_page_has_its_foot_and_number():
    made = pages_of(*[Block(150)] * 5)
    assert len(made) == 5
    for number, page in enumerate(made, 1):
        assert said(page, foot=True) == ["Pipit Downs", f"page {number} of 5"]
        assert all(TOP_MM <= item.y <= A4.height_mm - 5 for item in texts(page, foot=True))


def test_a_heading_is_never_the_last_on_its_page():
    for high in range(150, 262, 3):
        made = pages_of(Block(high), Heading("Planned works"), Paragraph("Zones are lettered."))
        last = said(made[0])[-1]
        assert last != "Planned works"
        assert {"Planned works", "Zones are lettered."} <= set(said(made[-1])) or len(made) == 1


def test_contents_name_the_page_on_which_each_part_begins():
    parts = [
        thing for name in "ABCDEFG" for thing in (Heading(f"Part {name}"), Block(140), Heading("below", 2), Block(9))
    ]
    made = pages_of(Title("Lower Sedge"), Contents(), *parts)
    begins = {place.words: number for number, page in enumerate(made, 1) for place in page.places if place.level == 1}
    lines = said(made[0])
    for words, number in begins.items():
        assert lines[lines.index(words) + 1] == str(number)
    assert list(begins) == [f"Part {name}" for name in "ABCDEFG"]


def test_places_lie_where_their_heading_is():
    made = pages_of(Block(100), Heading("Costs"), Block(20))
    (place,) = made[0].places
    heading = next(item for item in texts(made[0]) if item.text == "Costs")
    assert 0 < heading.y - place.y < 6
    assert place.level == 1


@given(
    rows=st.integers(1, 90),
    before=st.floats(0, 240),
    ruled=st.frozensets(st.integers(1, 89), max_size=12),
    foot=st.booleans(),
)
def test_rows_stand_once_each_in_order_under_a_head_and_none_is_cut(rows, before, ruled, foot):
    made = pages_of(Block(before), table(rows, ruled=ruled, foot=foot))
    found = []
    for page in made:
        words = texts(page)
        own = [item.text for item in words if item.text.startswith("row ")]
        assert all(TOP_MM <= item.y <= BOTTOM + 0.01 for item in words)
        if own:
            head = [item.y for item in words if item.text == "Plants"]
            first = next(item.y for item in words if item.text == own[0])
            assert len(head) == 1
            assert head[0] < first
        found += own
    assert found == [f"row {at}" for at in range(rows)]
    assert sum(said(page).count("All") for page in made) == foot
    if foot:
        assert said(made[-1])[-2:] != ["All", "9"] or said(made[-1]).count("Plants") == 1


@given(rows=st.integers(2 * LEAST_ROWS, 70), before=st.floats(0, 230))
def test_a_table_leaves_no_single_row_behind(rows, before):
    made = pages_of(Block(before), table(rows))
    counts = [sum(text.startswith("row ") for text in said(page)) for page in made]
    assert all(count >= LEAST_ROWS for count in counts if count)


def test_small_groups_of_rows_are_not_parted():
    ruled = frozenset(range(4, 80, 4))
    for before in range(0, 60, 3):
        made = pages_of(Block(before), table(80, ruled=ruled))
        for page in made:
            own = [int(text.split()[1]) for text in said(page) if text.startswith("row ")]
            assert not own or (own[0] % 4 == 0 and own[-1] % 4 == 3)


@given(lengths=st.lists(st.integers(1, 60), min_size=3, max_size=6), numbers=st.integers(1, 6))
def test_columns_stay_within_the_page_and_do_not_meet(lengths, numbers):
    words = [" ".join("word" for _ in range(length)) for length in lengths]
    heads = tuple(("Head",) for _ in range(len(words) + numbers))
    cells = (*words, *("12 345.67" for _ in range(numbers)))
    wide = Table("", heads, frozenset(range(len(words))), (Row(cells), Row(cells)))
    pages = pages_of(wide)
    rows = {}
    for number, item in ((number, item) for number, page in enumerate(pages) for item in texts(page)):
        left = item.x - TYPE.width(item.text, item.style) * (item.align == "right")
        assert left >= SIDE_MM - 0.01
        assert left + TYPE.width(item.text, item.style) <= SIDE_MM + WIDTH + 0.01
        rows.setdefault((number, round(item.y, 3)), []).append((left, left + TYPE.width(item.text, item.style)))
    for spans in rows.values():
        spans.sort()
        assert all(one[1] <= other[0] + 0.01 for one, other in pairwise(spans))
    assert sum(item.text.count("word") for page in pages for item in texts(page)) == 2 * sum(lengths)


def test_notes_stay_with_their_table():
    for before in range(0, 250, 4):
        made = pages_of(Block(before), Stays(table(8)), Bullets(("A note.", "Another.", "A third."), note=True))
        for page in made:
            own = said(page)
            if "A note." in own:
                assert any(text.startswith("row ") for text in own)
                assert own.count("•") != 1


def test_a_few_last_lines_are_drawn_in_rather_than_left_to_a_page_of_their_own():
    notes = tuple(f"Note {at}." for at in range(12))
    counts = [len(pages_of(Block(before), Bullets(notes), PageBreak(), Block(10))) for before in range(190, 240)]
    assert 2 in counts
    roomy = next(before for before in range(150, 240) if len(pages_of(Block(before), Bullets(notes))) == 2)
    made = pages_of(Block(roomy - 1), Bullets(notes))
    assert max(item.y for item in texts(made[0])) <= BOTTOM + 0.01


def test_a_page_break_waits_only_where_room_is_left():
    assert len(pages_of(Block(100), PageBreak(100), Block(20))) == 1
    assert len(pages_of(Block(200), PageBreak(100), Block(20))) == 2
    assert len(pages_of(Block(20), PageBreak(), Block(20))) == 2


def test_less_space_between_things_saves_a_last_page_with_little_on_it():
    things = [Block(19.0) for _ in range(12)]
    one_page = [thing for count in range(1, 13) for thing in [things[:count]] if len(pages_of(*thing)) == 1]
    most = max(map(len, one_page))
    loose = sum(19.0 for _ in range(most)) + 5.0 * (most - 1)
    assert loose > 0.95 * (BOTTOM - TOP_MM)


def test_fields_have_a_line_where_nothing_is_known():
    (page,) = pages_of(Fields((("Applicant", ""), ("Farm", "Pipit Downs"))))
    strokes = [item for box in page.boxes if box.name != "foot" for item in box.items if isinstance(item, Shape)]
    assert len(strokes) == 1
    assert strokes[0].points[1][0] == pytest.approx(SIDE_MM + WIDTH)
    assert "Pipit Downs" in said(page)


def room(bounds, least=78.0, most=168.0, key=30.0):
    return MapRoom(
        "map", "Map 1", bounds, lambda _type, view: ((view,), ()), lambda _type, width, _view: Box("key", 0, 0, width, key, ()),
        North(("Grid north",), 0.0, None), least_mm=least, most_mm=most,
    )  # fmt: skip


@given(wide=st.floats(20, 9000), high=st.floats(20, 9000), before=st.floats(0, 240), key=st.floats(5, 140))
def test_a_map_stands_on_one_page_at_a_round_scale_with_all_its_ground(wide, high, before, key):
    bounds = (1000.0, 2000.0, 1000.0 + wide, 2000.0 + high)
    made = pages_of(Block(before), room(bounds, key=key))
    (page,) = (page for page in made if page.maps)
    (one,) = page.maps
    left, top, across, down = one.frame
    assert left >= SIDE_MM
    assert left + across <= A4.width_mm - SIDE_MM + 0.01
    assert top >= TOP_MM
    assert top + down <= BOTTOM
    assert (one.view.width_mm, one.view.height_mm) == (across, down)
    west, south, east, north = one.view.ground_bounds()
    assert west <= bounds[0]
    assert east >= bounds[2]
    assert south <= bounds[1]
    assert north >= bounds[3]
    assert f"{one.view.scale_denominator:.10g}".rstrip("0") in {"1", "2", "25", "5"}
    below = max(box.y + box.height for box in page.boxes if box.name != "foot")
    assert below <= BOTTOM + 0.01


def test_a_map_that_is_much_larger_on_a_page_of_its_own_goes_there():
    bounds = (0.0, 0.0, 1500.0, 1400.0)
    alone = pages_of(room(bounds))[0].maps[0].view.scale_denominator
    made = pages_of(Block(110), room(bounds))
    assert len(made) == 2
    assert made[1].maps[0].view.scale_denominator == alone


def test_pictures_keep_their_shape_and_stand_beside_each_other():
    shots = (Shot("a.jpg", 400, 300, "One"), Shot("b.jpg", 300, 600, "Two"), Shot("c.jpg", 400, 300, "Three"))
    (page,) = pages_of(Pictures(shots))
    found = [item for box in page.boxes for item in box.items if isinstance(item, Picture)]
    for item, shot in zip(found, shots, strict=True):
        assert item.height / item.width == pytest.approx(shot.height / shot.width)
        assert item.x >= SIDE_MM
        assert item.x + item.width <= A4.width_mm - SIDE_MM + 0.01
    assert found[0].y + found[0].height == pytest.approx(found[1].y + found[1].height)
    assert found[2].y > found[0].y + found[0].height


def test_a_chart_stands_below_its_title():
    (page,) = pages_of(
        Chart("Cover over the years", lambda _type, width: Box("c", 0, 0, width, 30, (Text(0, 5, "x", TYPE.body),)))
    )
    title, mark = texts(page)
    assert title.text == "Cover over the years"
    assert mark.y > title.y


@given(words=st.text(st.sampled_from("ab 木林\n"), max_size=400), width=st.floats(30, 150))
def test_no_letter_of_running_text_is_lost(words, width):
    made = Paragraph(words).pieces(TYPE, width, 250.0)
    lines = [item.text for piece in made for item in piece.items]
    assert "".join("".join(lines).split()) == "".join(words.split())
    assert all(TYPE.width(line, made[0].items[0].style) <= width + 1e-6 for line in lines)


def test_a_line_feed_begins_a_line_and_an_empty_line_a_paragraph():
    made = Paragraph("One.\nTwo.\n \nThree.").pieces(TYPE, 150.0, 250.0)
    assert [item.text for piece in made for item in piece.items] == ["One.", "Two.", "Three."]
    assert [piece.above > 0 for piece in made] == [True, False, True]


@given(key=st.floats(20, 90), grows=st.floats(0, 60), before=st.floats(0, 120))
def test_a_map_whose_key_grows_with_it_stays_on_its_page(key, grows, before):
    def set_key(_type, width, view):
        return Box("key", 0, 0, width, key + grows * (view.height_mm > 100), ())

    one = MapRoom(
        "map", "Map 1", (0, 0, 400, 400), lambda _type, view: ((view,), ()), set_key, North(("Grid north",), 0.0, None)
    )
    for page in pages_of(Block(before), one):
        assert all(box.y + box.height <= A4.height_mm - FOOT_MM + 0.01 for box in page.boxes if box.name != "foot")
