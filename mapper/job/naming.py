"""Finding a record by what a person calls it: id, start of an id, name, tag code or lot number."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from mapper.errors import MapperError

_WORDS = ("code", "name", "number", "tag_code")


def label(record: Any) -> str:
    """What a reader calls a record: its name, a lot's product and number, an entry's kind."""
    if getattr(record, "code", ""):
        return f"{record.code} {record.name}"
    for name in ("name", "kind"):
        if getattr(record, name, ""):
            return str(getattr(record, name))
    if hasattr(record, "product"):
        return f"{record.product} {record.number}"
    return str(record.id[:8])


def answering(rows: Iterable[Any], wanted: str) -> list[Any]:
    """The records that answer to a text: by the whole id, else by name, code or number, else by
    the start of the id (4 characters or more)."""
    text, rows = wanted.strip(), list(rows)
    found = [r for r in rows if r.id == text]
    if not found and text:
        found = [r for r in rows if any(_word(r, w).casefold() == text.casefold() for w in _WORDS)]
    if not found and len(text) >= 4:
        found = [r for r in rows if r.id.startswith(text.lower())]
    return found


def _word(record: Any, name: str) -> str:
    values = getattr(record, "values", {})
    return str(getattr(record, name, "") or values.get(name, "") or "")


def pick(what: str, rows: Iterable[Any], wanted: str) -> Any:
    """The one record that answers; MapperError for none or several, naming some that are there."""
    rows = list(rows)
    found = answering(rows, wanted)
    if len(found) == 1:
        return found[0]
    there = "; ".join(f"{label(r)} ({r.id[:8]})" for r in (found or rows)[:8]) or "none yet"
    if found:
        raise MapperError(
            f"{len(found)} of them answer to {what} {wanted!r}: {there}.", "Give more of the id."
        )
    raise MapperError(f"There is no {what} {wanted!r}.", f"There: {there}.", "Name one of these.")
