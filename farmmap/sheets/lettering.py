"""Whether all that is on pages can be written with the typefaces of this computer."""

from __future__ import annotations

from collections.abc import Iterator

from farmmap.drawing.missing_letters import missing_words
from farmmap.scene.page_items import Text
from farmmap.sheets.page import Document


def not_written(document: Document) -> tuple[str, ...]:
    """Return a sentence on the letters of some pages that no typeface has, and what to do; nothing if all are there.

    Parameters
    ----------
    document : Document
        The pages: what is named on their maps, and all their text.
    """
    texts = [text for text in dict.fromkeys(_texts(document)) if not text.isascii()]
    whole = [text for text in texts if not any(text != other and text in other for other in texts)]
    said = missing_words(whole)
    return (said,) if said else ()


def _texts(document: Document) -> Iterator[str]:
    yield document.title
    for page in document.pages:
        for one in page.maps:
            yield from sorted(one.scene.texts)
        boxes = [item for box in page.boxes for item in box.items]
        over_maps = [item for one in page.maps for item in one.over_map]
        yield from (item.text for item in (*boxes, *over_maps) if isinstance(item, Text))
