"""The ways to take a coat off: where each is out, and the lines it adds to an estimate.

The names are those an entry offers (`mapper/job/kinds/shared.py`), the cautions of each stand in
`cautions.py`, its rates in `defaults.py`. Nothing else branches on methods. An estimate is made for
chemical stripping; the lines of another method stand beside it, on the panels it is open to.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from mapper.errors import MapperError
from mapper.estimate.cautions import PLASTIC_LEAST, PRACTICE
from mapper.estimate.inputs import Number
from mapper.job.entry import Entry
from mapper.job.kinds.shared import MEDIA, METHODS

Reason = tuple[str, str]  # a sentence and its source
Pick = Callable[[str], Number]


@dataclass(frozen=True)
class MethodLine:
    """One line of an estimate that a method adds. name: key in files, no other may have it; label
    as printed; unit inside the program; formula in words; rests_on: names of the defaults in it.

    work(area m2, perimeter m, pick): the quantity; pick gives a rate by its name, and all may be
    arrays of trials.
    """

    name: str
    label: str
    unit: str
    formula: str
    rests_on: tuple[str, ...]
    work: Callable[[Number, Number, Pick], Number]


@dataclass(frozen=True)
class Method:
    """refuses(metal, gauge mm): why it is out on such a sheet, None where it may be considered;
    metal as `metal_of` gives it. Thin sheet and sheet of unknown gauge are settled before that."""

    refuses: Callable[[str, float], Reason | None] = lambda metal, gauge: None
    lines: tuple[MethodLine, ...] = ()


def _plastic(metal: str, gauge: float) -> Reason | None:
    if metal == "steel" or gauge >= PLASTIC_LEAST:
        return None
    return "The gauge is under .81 mm (.032 in): no plastic media.", "TM 1-1500-344-23-2"


def _sand(metal: str, gauge: float) -> Reason | None:
    return None if metal == "steel" else ("Sand is for steel only.", PRACTICE)


ROWS: Mapping[str, Method] = MappingProxyType(
    {
        "chemical": Method(),
        "plastic media": Method(_plastic),
        "glass bead": Method(),
        "sand": Method(_sand),
        "hand abrasive": Method(),
    }
)
LINES: Mapping[str, MethodLine] = MappingProxyType(
    {line.name: line for row in ROWS.values() for line in row.lines}
)
if set(ROWS) != set(METHODS):
    raise MapperError(
        f"The methods have rows for {sorted(ROWS)}.",
        f"An entry offers {sorted(METHODS)}.",
        "Give each method its row, and offer each row.",
    )
BLASTING = MEDIA
NOT_STATED = "media not stated"


def method_of(entry: Entry) -> str:
    """The method of a go: "chemical" of an application, of a blasting round its media (also one in
    other words, "other: ...") or "media not stated"; "" for an entry that is no go."""
    if entry.kind == "application":
        return "chemical"
    if entry.kind == "blasting round":
        return str(entry.values.get("media") or NOT_STATED)
    return ""
