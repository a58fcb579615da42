"""The history: every change as a row that carries the hash of the row before it.

The hash of a row is the SHA-256 of the canonical JSON `{"after": .., "before": .., "row": {..}}`,
where "row" holds every other column but the hash itself, "clock_offset_ms" only where there is one;
the first row follows 64 zeros. Anybody can recompute the chain with a JSON and a SHA-256 library.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Select, String, select, type_coerce
from sqlalchemy.types import TypeDecorator

from mapper.store.canonical import canonical, digest
from mapper.store.errors import RUN_VERIFY, ShopDamaged
from mapper.store.tables import history

FIRST = "0" * 64
HEADER = (
    "seq",
    "action_id",
    "mode",
    "of_action",
    "content",
    "job_id",
    "by_person",
    "device_time",
    "server_time",
    "words",
    "op",
    "kind",
    "record_id",
    "previous",
)
CLOCK = "clock_offset_ms"  # came later: rows without it have the hash they always had
CLOCK_OFF = 60_000  # ms: a device's clock that is off by more is worth a word


@dataclass(frozen=True)
class HistoryRow:
    """One change: who (`by`, a person's id), when, in which words, from what to what.

    mode: "create" (the shop's first), "act", "undo" or "redo"; of_action: the action an undo or
    redo is about; op: "add", "change" or "remove"; before_text, after_text: canonical JSON or None.
    content: digest of what the whole action asked for; all rows of an action share it.
    clock_offset_ms: the device's clock minus the server's, None where nobody compared them.
    """

    seq: int
    action_id: str
    mode: str
    of_action: str | None
    content: str
    job_id: str | None
    by: str
    device_time: datetime
    server_time: datetime
    words: str
    op: str
    kind: str
    record_id: str
    before_text: str | None
    after_text: str | None
    previous: str
    hash: str
    clock_offset_ms: int | None = None

    @property
    def before(self) -> dict[str, Any] | None:
        """The plain record before the change; None where it was added. ShopDamaged where the row
        was changed by another program."""
        return self._plain(self.before_text)

    @property
    def after(self) -> dict[str, Any] | None:
        """The plain record after the change; None where it was removed."""
        return self._plain(self.after_text)

    def _plain(self, text: str | None) -> dict[str, Any] | None:
        try:
            plain = None if text is None else json.loads(text)
        except ValueError:
            plain = text
        if isinstance(plain, dict | None):
            return plain
        raise ShopDamaged(f"Change {self.seq} of the history is damaged.", "", RUN_VERIFY)


ROWS: Select = select(history)
# As the table keeps them: a time written another way is another text, and another hash.
RAW_ROWS: Select = select(
    *(type_coerce(c, String) if isinstance(c.type, TypeDecorator) else c for c in history.c)
).order_by(history.c.seq)
NEWEST = select(history.c.seq, history.c.hash).order_by(history.c.seq.desc()).limit(1)


def newest(connection: Connection) -> tuple[int, str]:
    """Number and hash of the last row; (0, 64 zeros) for an empty history."""
    row = connection.execute(NEWEST).first()
    return (0, FIRST) if row is None else (row[0], row[1])


def clock_words(offset_ms: float | None) -> str:
    """How far a device's clock was off, where that is worth a word; "" otherwise.

    offset_ms: the device's clock minus the server's, None where nobody compared them.
    """
    if offset_ms is None or abs(offset_ms) <= CLOCK_OFF:
        return ""
    minutes = round(abs(offset_ms) / 60_000)
    days, hours = minutes / 1440, minutes / 60
    if days >= 2:
        size = f"{days:.0f} days"
    else:
        size = f"{hours:.0f} h" if hours >= 3 else f"{minutes} min"
    return f"device's clock {size} {'ahead' if offset_ms > 0 else 'behind'}"


def from_row(row: Any) -> HistoryRow:
    """A HistoryRow of a row of the table, whose columns have the same order."""
    return HistoryRow(*row)


def row_hash(row: Mapping[str, Any]) -> str:
    """The hash a row must have; `row` by column name, times as the table keeps them, as text."""
    header = {name: row[name] for name in HEADER}
    if row.get(CLOCK) is not None:
        header[CLOCK] = row[CLOCK]
    before, after = row["before"], row["after"]
    return digest(
        f'{{"after":{"null" if after is None else after}'
        f',"before":{"null" if before is None else before}'
        f',"row":{canonical(header)}}}'
    )
