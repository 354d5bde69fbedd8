"""Reading a short file that a grower wrote: there, a file, not huge, and text."""

from __future__ import annotations

import codecs
from pathlib import Path

from farmmap.errors import BadInput

_WIDE = (codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE, codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


def written_text(path: Path, what: str, most_bytes: int = 2_000_000) -> str:
    """Return the text of a file, without a byte order mark.

    Parameters
    ----------
    path : Path
        The file.
    what : str
        What it should be, for messages: ``recipe``.
    most_bytes : int
        A larger file is refused.

    Raises
    ------
    BadInput
        It is missing, a folder, too large, empty, cannot be read, or is no text in UTF-8.
    """
    try:
        if path.is_dir():
            raise BadInput(f"{path} is a folder; give the {what} file inside it")
        if not path.exists():
            raise BadInput(f"there is no file {path}; check the name of the {what}")
        if not path.is_file():
            raise BadInput(f"{path} is no ordinary file; give the {what} as a text file")
        with path.open("rb") as file:
            raw = file.read(most_bytes + 1)
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        raise BadInput(f"{path} cannot be read ({error}); check the name and who may read it") from error
    if len(raw) > most_bytes:
        size = path.stat().st_size / 1e6
        raise BadInput(f"{path} has {size:.0f} MB; a {what} is a text of a few pages. Is it the right file?")
    if raw.startswith(_WIDE):
        raise BadInput(f"{path} was saved as UTF-16 or UTF-32; save it as UTF-8 from the editor and give it again")
    raw = raw.removeprefix(codecs.BOM_UTF8)
    if not raw.strip():
        raise BadInput(f"{path} is empty; a {what} was expected")
    if b"\0" in raw:
        raise BadInput(f"{path} is no text in UTF-8; a {what} was expected. Save it as UTF-8 from the editor")
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise BadInput(
            f"line {line} of {path} holds a letter that is not UTF-8; save the file as UTF-8 from the editor"
        ) from error
