"""What is said when something has been recorded: where it is and how large, so that a wrong unit or
place shows at once, what rule it meets, and what is still to complete."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from mapper.cli.desk import Desk


def tell(desk: Desk, entry: Any) -> None:
    """Print the lines below "finding on ...": place, near lines, rules met, to-complete list."""
    said = (*place_lines(desk, entry), *value_lines(desk, entry), *doubt_lines(desk, entry))
    for line in (*said, *rule_lines(desk, entry), *missing_lines(entry)):
        print(wrapped(line))


def please_check(words: str) -> None:
    """Say on the error stream what was taken as typed and is seldom meant so."""
    print(wrapped(f"mapper: please check: {words}"), file=sys.stderr)


def share_of_chord(chords: Iterable[float]) -> None:
    """Say so where a % chord looks like a share of one: 0.3 for 30 %."""
    for chord in chords:
        if 0.0 < chord < 1.0:
            please_check(
                f"{chord:g} % chord was given; for {100 * chord:g} % write {100 * chord:g}."
            )


def wrapped(line: str) -> str:
    """A line of a reply on lines of 80 columns, later ones set in."""
    return textwrap.fill(line, 80, subsequent_indent="  ", break_on_hyphens=False)


def size_words(desk: Desk, entry: Any) -> str:
    """ ", 0.060 m2 on 2 sheets" for an entry with an outline."""
    from mapper.job import telling
    from mapper.units import count_of

    if entry.outline is None:
        return ""
    size = telling.size(entry, desk.book.geometries[entry.geometry], desk.units)
    words = {"line": f"a line of {size}"}.get(entry.region, size)
    return f", {words} on {count_of(len(entry.pieces), 'sheet')}"


def place_lines(desk: Desk, entry: Any) -> Iterator[str]:
    """Face, side, station, % chord and panel of an outline, and what it lies near."""
    from mapper.job import telling
    from mapper.job.sense import panels_under

    if entry.outline is None:
        return
    geometry = desk.book.geometries[entry.geometry]
    names = [p.name for p in panels_under(entry, geometry)]
    panels = f"; panel{'s' * (len(names) > 1)} {telling.some(names)}" if names else ""
    where, face = telling.drawn(entry.outline, desk.units, geometry), entry.outline.face
    yield f"Where: {where}{'' if face in where else f', {face} face'}{panels}."
    words = telling.near(geometry, entry.outline, desk.units)
    if words:
        yield f"Near: {words}."


def value_lines(desk: Desk, entry: Any) -> Iterator[str]:
    """What is recorded, each number with its unit."""
    from mapper.job import telling

    words = telling.values(entry, desk.units, desk.names())
    if words:
        yield f"Says: {', '.join(words)}."


def doubt_lines(desk: Desk, entry: Any) -> Iterator[str]:
    """Values that can be and seldom are, to be looked at once more."""
    from mapper.job.doubts import doubts
    from mapper.store.shop import local_now

    lots = {lot.id: lot for lot in desk.store.lots()}
    for line in doubts(desk.book, entry, lots, local_now(), desk.units):
        yield f"Please check: {line}"


def rule_lines(desk: Desk, entry: Any) -> Iterator[str]:
    """The rules that recorded media meet on the sheets they lie on, each with its source."""
    from mapper.estimate import met

    geometry = None if entry.outline is None else desk.book.geometries[entry.geometry]
    yield from met.rule_lines(entry, geometry, desk.units)


def missing_lines(entry: Any) -> Iterator[str]:
    """The to-complete list of an entry; nothing where nothing is missing."""
    from mapper.job.values import missing

    names = [f.label for f in missing(entry)]
    if names:
        yield f"To complete: {', '.join(names)}."
