"""Who wrote down what others are named for: dispositions, corrected shapes, confirmed places.

All of it is read from the history (`Book.trail`); without one nothing is said.
"""

from __future__ import annotations

from mapper.job.carry.move import MOST_AREA, MOST_SHIFT
from mapper.job.entry import Entry
from mapper.job.records import Part
from mapper.job.trail import Correction, Settled
from mapper.report.lookup import Lookup
from mapper.report.model import Column, Table
from mapper.report.phrases import counted, moment, short_day
from mapper.report.piles import spanned
from mapper.units import Units


def penned(entry: Entry, lookup: Lookup) -> str:
    """Who wrote a disposition down, where that is not the person it is by; else "".

    A decision is its licensed person's; a reader who signs has to know whose hand it is in.
    """
    written = lookup.book.trail.decided.get(entry.id)
    if written is None or not entry.values.get("disposition"):
        return ""
    if written.by == entry.values.get("disposed_by"):
        return ""
    return f"Disposition written down by {lookup.by(written.by)}, {moment(written.when)}"


def changed(entry: Entry, lookup: Lookup) -> str:
    """Who changed an entry last, and when; "" where nobody did."""
    written = lookup.book.trail.changed.get(entry.id)
    return f"changed {short_day(written.when)}, {lookup.by(written.by)}" if written else ""


def others_pen(lookup: Lookup) -> str:
    """The numbers of dispositions that somebody else wrote down than the person they are by."""
    numbers = [lookup.number[e.id] for e in lookup.book.entries if penned(e, lookup)]
    if numbers:
        return f"No. {spanned(numbers)} (see there by whom)"
    written = any(e.values.get("disposition") for e in lookup.book.entries)
    return "none" if written and lookup.book.trail.decided else ""


def corrected(part: Part, lookup: Lookup) -> tuple[tuple[str, str], ...]:
    """Rows of facts on a part's page: when its shape was corrected, and whose word the places of
    its entries rest on; () where it is as first described."""
    rows = [("Shape corrected", _made(one, lookup)) for one in _corrections(part, lookup)]
    return (*rows, ("Places of entries", _places(part, lookup))) if rows else ()


def table(lookup: Lookup) -> tuple[Table, ...]:
    """Every corrected shape of the job, for those who sign; () where none was."""
    rows = tuple(
        (part.name, "\n".join(_made(one, lookup) for one in found), _places(part, lookup))
        for part in lookup.book.parts
        if (found := _corrections(part, lookup))
    )
    if not rows:
        return ()
    units = Units(lookup.book.shop.units)
    return (
        Table(
            "Shapes corrected after entries were recorded",
            (
                Column("Part", share=1.4),
                Column("Corrected", share=2.4),
                Column("Places of its entries", share=3.6),
            ),
            rows,
            foot=(
                "A corrected shape carries every entry over. What moved by more than "
                f"{units.show(MOST_SHIFT, 'mm', digits=1)} or changed its area by more than "
                f"{MOST_AREA:g} % stays unconfirmed until a person says that it lies where it is "
                "shown, or draws it again.",
            ),
        ),
    )


def _corrections(part: Part, lookup: Lookup) -> list[Correction]:
    return [c for c in lookup.book.trail.corrections if c.part_id == part.id]


def _made(one: Correction, lookup: Lookup) -> str:
    carried = counted(one.carried, "entry", "entries")
    return f"{moment(one.written.when)}, by {lookup.by(one.written.by)}; {carried} carried over"


def _places(part: Part, lookup: Lookup) -> str:
    """Which places were confirmed or drawn again, by whom and when, and which still are not."""
    by_word: dict[tuple[bool, str, str], list[Entry]] = {}
    trail = lookup.book.trail
    open_: list[str] = []
    for entry in lookup.entries(part):
        if entry.unconfirmed:
            open_.append(lookup.number[entry.id])
            continue
        settled = trail.settled.get(entry.id)
        if settled is not None:
            by_word.setdefault(_word(settled, lookup), []).append(entry)
    said = [
        f"{'drawn again' if again else 'confirmed'} by {who}, {when}: "
        f"No. {spanned([lookup.number[e.id] for e in entries])}"
        f"{_at_once([trail.settled[e.id] for e in entries])}"
        for (again, who, when), entries in by_word.items()
    ]
    if open_:
        said.append(f"not confirmed: No. {spanned(open_)}")
    return "; ".join(said) or "none moved so far that it had to be looked at again"


def _word(settled: Settled, lookup: Lookup) -> tuple[bool, str, str]:
    written = settled.written
    return settled.drawn_again, lookup.by(written.by), moment(written.when)


def _at_once(settled: list[Settled]) -> str:
    """ " (12 entries in one go)" where one action settled several, with no look at each between."""
    times = {one.written.when for one in settled}
    return f" ({len(settled)} entries in one go)" if len(times) == 1 < len(settled) else ""
