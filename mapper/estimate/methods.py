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
from mapper.estimate.blasting import Blasting, blast
from mapper.estimate.cautions import PLASTIC_LEAST, PRACTICE
from mapper.estimate.inputs import Number
from mapper.job.entry import Entry
from mapper.job.kinds.shared import MEDIA, METHODS

Reason = tuple[str, str]  # a sentence and its source
Pick = Callable[[str], Number]


@dataclass(frozen=True, eq=False)
class Surface:
    """What a method works on: area m2, perimeter m, and paint, its dry volume in um m2 (thickness
    of all coats together times area; 1 um m2 is 1 mL)."""

    area: Number
    perimeter: Number
    paint: Number


@dataclass(frozen=True)
class MethodLine:
    """One line of an estimate that a method adds. name: key in files, no other may have it; label
    as printed; unit inside the program; formula in words; rests_on: names of the defaults in it.

    work(surface, pick): the quantity; pick gives a rate by its name, and all may be arrays of
    trials.
    """

    name: str
    label: str
    unit: str
    formula: str
    rests_on: tuple[str, ...]
    work: Callable[[Surface, Pick], Number]


@dataclass(frozen=True)
class Method:
    """refuses(metal, gauge mm): why it is out on such a sheet, None where it may be considered;
    metal as `metal_of` gives it. Thin sheet and sheet of unknown gauge are settled before that."""

    refuses: Callable[[str, float], Reason | None] = lambda metal, gauge: None
    lines: tuple[MethodLine, ...] = ()


_BLASTING = ("blast_rate", "duty", "breakdown", "media_flow", "coat_density", "coat_thickness")
_TRIGGER = "coats × thickness × area ÷ rate of blasting"


def _blast(surface: Surface, pick: Pick) -> Blasting:
    # The thickness is in the volume already, so the whole of it stands on one square metre.
    return blast(
        1.0,
        surface.paint,
        rate=pick("blast_rate"),
        duty=pick("duty"),
        flow=pick("media_flow"),
        breakdown=pick("breakdown"),
        density=pick("coat_density"),
    )


def _thrown(key: str, media: str) -> tuple[MethodLine, ...]:
    """The lines of a method that throws `media` at the coats."""

    def line(name: str, label: str, unit: str, formula: str, part: str, rests: int) -> MethodLine:
        return MethodLine(
            f"{key}_{name}",
            f"{media}: {label}",
            unit,
            formula,
            (*_BLASTING[:rests], "unknown_coats", *(("coat_thickness",) if rests < 6 else ())),
            lambda surface, pick: getattr(_blast(surface, pick), part),
        )

    return (
        line("labour", "labour", "h", f"{_TRIGGER} ÷ share of time at the trigger", "hours", 2),
        line("media", "media used up", "kg", f"{_TRIGGER} × media flow × breakdown", "media", 4),
        line("dust", "dust to collect", "kg", "media used up + dry paint", "waste", 6),
    )


def _plastic(metal: str, gauge: float) -> Reason | None:
    if metal == "steel" or gauge >= PLASTIC_LEAST:
        return None
    return "The gauge is under .81 mm (.032 in): no plastic media.", "TM 1-1500-344-23-2"


def _sand(metal: str, gauge: float) -> Reason | None:
    return None if metal == "steel" else ("Sand is for steel only.", PRACTICE)


ROWS: Mapping[str, Method] = MappingProxyType(
    {
        "chemical": Method(),
        "plastic media": Method(_plastic, _thrown("plastic", "plastic media")),
        "glass bead": Method(lines=_thrown("bead", "glass bead")),
        "sand": Method(_sand, _thrown("sand", "sand")),
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
