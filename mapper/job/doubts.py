"""What can have been and seldom was: values of an entry that a person should look at once more.

Nothing here is refused, and nothing is kept of it: it is said when something is recorded or
changed, beside what was stored.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta
from typing import Any

from mapper.job.book import Book
from mapper.job.entry import Entry, kind_of
from mapper.job.fields import Field, Measured
from mapper.job.records import Lot
from mapper.job.sense import panels_under
from mapper.job.values import show
from mapper.units import Units

# A sheet is measured a tenth off its nominal gauge; three times it is another unit.
_MUCH = 3.0
# No coat of paint dries to less (common practice, no source); a thousandth of an inch is 25 um.
THINNEST_FILM = 1.0  # um
_CLOCKS = timedelta(days=1)


def doubts(
    book: Book, entry: Entry, lots: Mapping[str, Lot], now: datetime, units: Units
) -> tuple[str, ...]:
    """Each doubt about an entry's values as one sentence in the units given; () for none.

    lots: the shop's lots by id; now: the moment of recording, with its offset.
    """
    return (
        *_gauges(book, entry, units),
        *_films(entry, units),
        *_lot(entry, lots),
        *_result(entry),
        *_to_come(entry, now, units),
    )


def _size(value: Any) -> float:
    return value.value if isinstance(value, Measured) else float(value)


def _gauges(book: Book, entry: Entry, units: Units) -> Iterator[str]:
    f, given = kind_of(entry.kind).field("gauge"), entry.values.get("gauge")
    if f is None or given is None or entry.outline is None:
        return
    known = {p.gauge for p in panels_under(entry, book.geometries[entry.geometry]) if p.gauge}
    if known and not min(known) / _MUCH <= _size(given) <= max(known) * _MUCH:
        there = " and ".join(units.show(g, "mm", digits=3) for g in sorted(known))
        yield (
            f"the {f.label} is {show(f, given, units)}, and the part file says {there} here: "
            "check the unit."
        )


def _films(entry: Entry, units: Units) -> Iterator[str]:
    for f, value in _with_records(entry):
        if f.unit == "um" and value is not None and 0.0 < _size(value) < THINNEST_FILM:
            other = "in" if units.system == "inch" else "mm"
            yield (
                f"the {f.label} of {show(f, value, units)} is thinner than any coat: numbers "
                f"without a unit are {units.label('um')} here; with one, write for example "
                f"{f.name}={'0.002' if other == 'in' else '0.05'} {other}."
            )


def _with_records(entry: Entry) -> Iterator[tuple[Field, Any]]:
    for f in kind_of(entry.kind).fields:
        if f.type == "records":
            for row in entry.values.get(f.name, ()):
                yield from ((g, row.get(g.name)) for g in f.of)
        else:
            yield f, entry.values.get(f.name)


def _lot(entry: Entry, lots: Mapping[str, Lot]) -> Iterator[str]:
    lot = lots.get(str(entry.values.get("lot", "")))
    product = str(entry.values.get("product", ""))
    if lot is None or not product:
        return
    ours, theirs = (" ".join(x.split()).casefold() for x in (product, lot.product))
    if ours not in theirs and theirs not in ours:
        yield f"the lot {lot.number} is of {lot.product!r}, and the product is {product!r}."


def _result(entry: Entry) -> Iterator[str]:
    count = len(entry.values.get("findings", ()))
    if entry.kind == "inspected area" and count and entry.values.get("result") == "nothing found":
        yield f"it says nothing found, and names {count} finding{'s' * (count > 1)}."


def _to_come(entry: Entry, now: datetime, units: Units) -> Iterator[str]:
    for f, value in _with_records(entry):
        if isinstance(value, datetime):
            late = value > now + _CLOCKS
        elif isinstance(value, date):
            late = value > (now + _CLOCKS).date()
        else:
            continue
        if late:
            yield f"the {f.label}, {show(f, value, units)}, is still to come: is it the year?"
