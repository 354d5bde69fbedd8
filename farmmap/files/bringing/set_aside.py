"""Bad rows to a file beside their source, where they can be put right and brought again."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

from farmmap.errors import BadInput
from farmmap.files.bringing.counted import counted
from farmmap.files.sources.source import BadRow, Source


def write_rows(bad: Sequence[BadRow], source: Source) -> Path | None:
    """Write bad rows as ``<name>-set-aside.csv`` beside their source; an earlier one is never overwritten.

    Returns
    -------
    Path or None
        The file; None if there is no bad row.

    Raises
    ------
    BadInput
        The file cannot be written there.
    """
    if not bad:
        return None
    heads = list(dict.fromkeys(["row", "reason", *(name for row in bad for name in row.raw)]))
    number = 1
    while True:
        ending = "" if number == 1 else f"-{number}"
        path = source.path.with_name(f"{source.path.stem}-set-aside{ending}.csv")
        try:
            with path.open("x", encoding="utf-8-sig", newline="") as file:
                writer = csv.writer(file, delimiter=source.separator)
                writer.writerow(heads)
                for row in bad:
                    raw = {**row.raw, "row": row.row_number, "reason": row.reason}
                    writer.writerow([raw.get(head, "") for head in heads])
        except FileExistsError:
            number += 1
            continue
        except OSError as error:
            raise BadInput(
                f"{counted(len(bad), 'row was', 'rows were')} set aside and could not be written to {path}: "
                f"{error.strerror}. "
                "Put the source in a folder that may be written to, and bring it again"
            ) from error
        return path
