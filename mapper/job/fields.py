"""The table from which the store, the command line, the forms, the report and the documents are made.

A `Kind` says what an entry of that kind records; a `Field` says what one value of it may be. Adding
a kind of entry is writing one `Kind`; nothing else branches on kinds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

FIELD_TYPES = (
    "text", "choice", "number", "measured", "date", "time", "yes/no", "records", "reference",
)
REGION_TYPES = ("area", "line", "point", "place")


@dataclass(frozen=True)
class Measured:
    """A value with its +/- (95 % half-width; None: not stated), in the field's unit."""

    value: float
    plus_minus: float | None = None


@dataclass(frozen=True)
class Field:
    """One value of an entry.

    name: key in files and on the command line (words joined by "_"); label: what a person reads.
    type: one of FIELD_TYPES. unit: the unit inside the program ("mm", "um", "L", "kg", "min", "C",
    "%", "bar" ...), "" for none. choices: a starting list, for "choice" ("other" with words is
    always allowed as "other: words"). least, most: allowed range for number and measured, None open.
    of: the fields of each record, for "records" (a list of mappings). refers_to: kind of record a
    "reference" holds the id of ("entry", "person", "lot", "finish system").
    expected: missing values of such fields go on the to-complete list.
    """

    name: str
    label: str
    type: str
    unit: str = ""
    choices: tuple[str, ...] = ()
    least: float | None = None
    most: float | None = None
    of: tuple[Field, ...] = ()
    refers_to: str = ""
    expected: bool = False
    help: str = ""


@dataclass(frozen=True)
class Kind:
    """One kind of entry: name ("coat zone"), plural, what it is for, and its fields in order.

    regions: which of REGION_TYPES it may have. style: the style token its outline is drawn with.
    """

    name: str
    plural: str
    help: str
    regions: frozenset[str]
    fields: tuple[Field, ...]
    style: str

    def field(self, name: str) -> Field | None:
        """The field of that name, or None."""
        return next((f for f in self.fields if f.name == name), None)


Value = Any  # str, float, bool, date, datetime, Measured, or a tuple of mappings of these
