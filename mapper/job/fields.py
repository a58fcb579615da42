"""The table that store, command line, forms, report and documents are made from.

A `Kind` says what an entry of that kind records; a `Field` says what one value of it may be. Adding
a kind of entry is writing one `Kind`; nothing else branches on kinds.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any

from mapper.errors import MapperError

FIELD_TYPES = (
    "text",
    "choice",
    "number",
    "measured",
    "date",
    "time",
    "yes/no",
    "records",
    "reference",
    "shape",
)
REGION_TYPES = ("area", "line", "point", "place")
REFERENCES = ("entry", "person", "lot", "finish system")
_NAME = re.compile(r"[a-z][a-z0-9_]*")


@dataclass(frozen=True)
class Measured:
    """A value with its +/- (95 % half-width; None: not stated), in the field's unit.

    Raises MapperError where either is not a finite number, or the +/- is negative.
    """

    value: float
    plus_minus: float | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "value", _finite(self.value, "The value"))
        if self.plus_minus is not None:
            half = _finite(self.plus_minus, "The +/-")
            if half < 0:
                raise MapperError(
                    f"The +/- is {half:g}.", "It is a half-width: 0 or more.", "Leave the sign off."
                )
            object.__setattr__(self, "plus_minus", half)


def _finite(value: object, what: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise MapperError(f"{what} is {value!r}.", "It must be a finite number.")
    return float(value)


@dataclass(frozen=True)
class Field:
    """One value of an entry.

    name: key in files and on the command line (words joined by "_"); label: what a person reads.
    type: one of FIELD_TYPES. unit: the unit inside the program ("mm", "um", "L", "kg", "min", "C",
    "%", "bar" ...), "" for none. choices: a starting list, for "choice" ("other" with words is
    always allowed as "other: words"). least, most: allowed range for number and measured, None for
    open. whole: a number that counts things. of: the fields of each record, for "records" (a list
    of mappings). refers_to: kind of record a "reference" holds the id of ("entry", "person",
    "lot", "finish system").
    expected: missing values of such fields go on the to-complete list. only_if: (field, words...):
    expected only when that field holds one of the words. unless: fields of which any, when given,
    takes this one off the list. computed: filled in by the program from the outline.
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
    whole: bool = False
    only_if: tuple[str, ...] = ()
    unless: tuple[str, ...] = ()
    computed: bool = False

    def __post_init__(self) -> None:
        """A table with a mistake in it is refused when the program starts, not when it is used."""
        where = f"The field {self.name!r}"
        if not _NAME.fullmatch(self.name):
            raise MapperError(f"{where} has no usable name.", "Small letters, digits and _.")
        if self.type not in FIELD_TYPES:
            raise MapperError(f"{where} has the type {self.type!r}.", f"One of {FIELD_TYPES}.")
        if (self.type == "choice") != bool(self.choices):
            raise MapperError(f"{where}: choices and only choices have a list of choices.")
        if (self.type == "records") != bool(self.of):
            raise MapperError(f"{where}: records and only records have fields of their own.")
        if (self.type == "reference") != bool(self.refers_to) or (
            self.refers_to and self.refers_to not in REFERENCES
        ):
            raise MapperError(f"{where}: a reference refers to one of {REFERENCES}.")


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

    def __post_init__(self) -> None:
        names = [f.name for f in self.fields]
        if len(set(names)) != len(names):
            raise MapperError(f"The kind {self.name!r} has two fields of one name.")
        if not self.regions <= set(REGION_TYPES) or not self.regions:
            raise MapperError(f"The kind {self.name!r}: regions are of {REGION_TYPES}.")
        for f in self.fields:
            unknown = {*f.only_if[:1], *f.unless} - set(names)
            if unknown:
                raise MapperError(f"The kind {self.name!r}: {f.name} leans on {sorted(unknown)}.")

    def field(self, name: str) -> Field | None:
        """The field of that name, or None."""
        return next((f for f in self.fields if f.name == name), None)


Value = Any  # str, float, bool, date, datetime, Measured, or a tuple of mappings of these
