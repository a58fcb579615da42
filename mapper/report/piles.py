"""Work done again and again over one and the same place: one row of a list, one outline on a map.

Four applications over a whole panel say the same thing four times; drawn over each other they hide
what lies under them. Only work that is repeated is gathered, and only where outlines are the same;
a finding, a marking or a coat zone always stands alone. Nothing is left out: the row and the
outline carry all the numbers, and every entry stands in full at the end of the report.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from shapely import union_all
from shapely.geometry.base import BaseGeometry

from mapper.job.entry import Entry
from mapper.report.lookup import LEAST, Sheet, shapes_on

REPEATED = frozenset(
    {"application", "blasting round", "inspected area", "treatment", "paint application"}
)
Pile = tuple[Entry, ...]


def piles_on(sheet: Sheet, entries: Iterable[Entry]) -> tuple[Pile, ...]:
    """The entries in their order, those of the same kind and state with the same outline on that
    panel (to LEAST mm2) together in the place of the first; none: ()."""
    found: list[list[Entry]] = []
    shapes: dict[str, BaseGeometry] = {}
    for entry in entries:
        if entry.kind not in REPEATED:
            found.append([entry])
            continue
        shapes[entry.id] = union_all(list(shapes_on(sheet, entry)))
        for pile in found:
            first = pile[0]
            if (first.kind, first.state) == (entry.kind, entry.state) and _same(
                shapes[first.id], shapes[entry.id]
            ):
                pile.append(entry)
                break
        else:
            found.append([entry])
    return tuple(tuple(pile) for pile in found)


def _same(a: BaseGeometry, b: BaseGeometry) -> bool:
    if min(a.area, b.area) <= LEAST or abs(a.area - b.area) > LEAST:
        return False
    return a.equals(b) or float(a.symmetric_difference(b).area) <= LEAST


def spanned(numbers: Sequence[str]) -> str:
    """Numbers as short as they go: "42", "42–45", "71, 73–75"; "" for none."""
    runs: list[list[str]] = []
    for number in numbers:
        if runs and _follows(runs[-1][-1], number):
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(
        run[0] if len(run) == 1 else f"{run[0]}{', ' if len(run) == 2 else '–'}{run[-1]}"
        for run in runs
    )


def _follows(one: str, other: str) -> bool:
    return one.isdigit() and other.isdigit() and int(other) == int(one) + 1


def labels_of(piles: Iterable[Pile], numbers: Mapping[str, str]) -> dict[str, str]:
    """The text at the first outline of each pile: the numbers of all its entries that have one."""
    found = {}
    for pile in piles:
        named = [numbers[e.id] for e in pile if e.id in numbers]
        if named:
            found[pile[0].id] = spanned(named)
    return found
