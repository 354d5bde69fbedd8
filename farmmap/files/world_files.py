"""World files: six numbers beside a picture that say where on the ground it lies."""

from __future__ import annotations

from pathlib import Path

from farmmap.errors import BadInput
from farmmap.files.sources.text import decoded

MOST_BYTES = 10_000
"""A longer file is none."""


def usual_name(path: Path) -> str:
    """Return what the world file of a picture is usually called: ``.pgw`` for ``.png``."""
    ending = path.suffix.lower()
    return path.with_suffix(f".{ending[1]}{ending[-1]}w" if len(ending) > 2 else ".wld").name


def world_file_of(path: Path) -> Path | None:
    """Return the world file beside a picture, None if there is none."""
    endings = Path(usual_name(path)).suffix, f"{path.suffix.lower()}w", ".wld"
    beside = (path.with_suffix(case) for ending in endings for case in (ending, ending.upper()))
    return next((found for found in beside if found.is_file()), None)


def is_odd(world: Path) -> bool:
    """Whether it starts with a byte order mark, or is in UTF-16: then GDAL makes nothing or nonsense of it."""
    try:
        content = _content(world)
    except OSError:
        return False
    return not content.isascii() or b"\0" in content


def place_in(world: Path) -> tuple[float, ...]:
    """Read a world file, in whatever encoding a text editor left it.

    Returns
    -------
    tuple of float
        a, b, c, d, e, f of x = a·column + b·row + c, y = d·column + e·row + f, counted from the outer corner of the
        first dot. The file itself names the middle of that dot.

    Raises
    ------
    BadInput
        It does not hold six numbers.
    """
    try:
        words = decoded(_content(world), world)[0].split()
        a, d, b, e, x, y = (float(word.replace(",", ".")) for word in words[:6])
    except OSError as error:
        raise BadInput(f"{world.name} cannot be read ({error.strerror}); see that you may read it") from error
    except (ValueError, BadInput) as error:
        raise BadInput(
            f"{world.name} is not the world file of a picture: it should hold six numbers, one in each line. "
            "Ask whoever made the picture for it"
        ) from error
    return a, b, x - a / 2 - b / 2, d, e, y - d / 2 - e / 2


def _content(world: Path) -> bytes:
    with world.open("rb") as file:
        return file.read(MOST_BYTES)
