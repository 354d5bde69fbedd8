"""XML, read with care: no entities, no fetching from elsewhere."""

from __future__ import annotations

from pathlib import Path
from xml.etree.ElementTree import Element, ParseError

from defusedxml import ElementTree
from defusedxml.common import DefusedXmlException

from farmmap.errors import BadInput


def parsed(content: bytes, path: Path, kind: str) -> Element:
    """Return the outermost element.

    Raises
    ------
    BadInput
        It is broken off, or defines entities of its own (which could swell without end).
    """
    try:
        root = ElementTree.fromstring(content, forbid_dtd=False, forbid_entities=True, forbid_external=True)
    except ParseError as error:
        line = error.position[0] if error.position else 1
        raise BadInput(f"{path.name} is broken {kind} at line {line}; it may be cut short, fetch it again") from error
    except DefusedXmlException as error:
        raise BadInput(
            f"{path.name} defines entities of its own, which an honest {kind} file never needs; not read"
        ) from error
    except (ValueError, LookupError, RecursionError) as error:
        raise BadInput(f"{path.name} is not {kind} that can be read: {error}") from error
    assert root is not None
    return root


def word(element: Element) -> str:
    """Return an element's name without its namespace."""
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


def text_of(element: Element | None) -> str:
    """Return the text in an element, "" for none."""
    return "" if element is None else (element.text or "").strip()


def child(element: Element, name: str) -> Element | None:
    """Return the first child of that name, whatever its namespace."""
    return next((found for found in element if word(found) == name), None)


def children(element: Element, name: str) -> list[Element]:
    """Return the children of that name, whatever their namespace."""
    return [found for found in element if word(found) == name]
