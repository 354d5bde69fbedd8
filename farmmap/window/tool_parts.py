"""The parts of the window that map tools need, put together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from farmmap.window.tool_row import ToolRow
from farmmap.window.tools.bench import Bench
from farmmap.window.tools.note_strip import NoteStrip

if TYPE_CHECKING:
    from farmmap.window.farm_window import FarmWindow


def tool_parts(window: FarmWindow) -> tuple[Bench, ToolRow, NoteStrip]:
    """Return the bench of a window, the row of tools and the strip of words, joined to its map, key and status line."""
    strip = NoteStrip()
    bench = Bench(window.session, window.contents, window.map_view, window.files, window.jobs, strip, window)
    row = ToolRow(bench, window.menuBar())
    key, status = window.key_view, window.status_line
    status.put_in(strip.reading)
    strip.reading_changed.connect(status.make_room)
    bench.changed.connect(lambda: key.step_aside(bench.is_at_work))
    return bench, row, strip
