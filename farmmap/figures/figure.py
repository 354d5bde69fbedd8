"""What the catalogue tells of one figure."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Figure:
    """One entry of the catalogue.

    Attributes
    ----------
    name : str
        Key in tables, CSV and JSON; ends in the unit where there is one.
    title : str
        Name in words.
    heading : str
        Short name for the head of a table.
    symbol : str
        What it is called in formulas, "" if nothing.
    unit : str
        Unit, "" if it has none.
    formula : str
        How it is worked out, in plain text.
    words : str
        What it means and which convention it follows.
    source : str
        Where the formula or the convention comes from; "common practice" where there is no publication.
    places : int or None
        Decimals shown; None for words.
    numbers : str
        The formula with ``{key}`` where a number of the row goes.
    """

    name: str
    title: str
    heading: str
    symbol: str = ""
    unit: str = ""
    formula: str = ""
    words: str = ""
    source: str = ""
    places: int | None = None
    numbers: str = ""
