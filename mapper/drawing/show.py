"""What is shown: entries chosen by kind, coat, date, person and state."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.job.entry import STATES, Entry

INSPECTED = "inspected area"


@dataclass(frozen=True)
class Show:
    """A choice of entries; None leaves a choice open.

    kinds: names of kinds. coats: words of coats or finish systems; entries that name no coat pass.
    until: last day shown. people: ids of who recorded it. states: as `mapper.job.entry.STATES`.
    """

    kinds: frozenset[str] | None = None
    coats: frozenset[str] | None = None
    until: date | None = None
    people: frozenset[str] | None = None
    states: frozenset[str] | None = None

    def __post_init__(self) -> None:
        if self.states is not None and (unknown := self.states - set(STATES)):
            raise MapperError(
                f"No state {', '.join(sorted(unknown))}.", f"States are {', '.join(STATES)}."
            )

    def shows(self, entry: Entry) -> bool:
        """Whether an entry is chosen. One without a date passes every `until`."""
        if self.kinds is not None and entry.kind not in self.kinds:
            return False
        if self.people is not None and entry.by not in self.people:
            return False
        if self.states is not None and entry.state not in self.states:
            return False
        if not self.in_time(entry):
            return False
        if self.coats is None:
            return True
        named = coats_named(entry)
        return not named or bool(named & {coat.casefold() for coat in self.coats})

    def in_time(self, entry: Entry) -> bool:
        """Whether an entry was recorded by the last day shown."""
        when = entry.device_time or entry.server_time
        return self.until is None or when is None or when.date() <= self.until


def _words(value: Any) -> Iterable[str]:
    if isinstance(value, str):
        yield value.casefold()
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from _words(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _words(inner)


def coats_named(entry: Entry) -> frozenset[str]:
    """The coats and finish systems an entry names, lower case; empty for most kinds."""
    return frozenset(
        word
        for name, value in entry.values.items()
        if name in ("coat", "coats", "finish_system")
        for word in _words(value)
    )


def on_face(entries: Iterable[Entry], skin: str, face: str) -> tuple[Entry, ...]:
    """The entries with an outline on that face of that skin, in the order given."""
    return tuple(
        entry
        for entry in entries
        if entry.outline is not None and entry.outline.skin == skin and entry.outline.face == face
    )


def _outline(entry: Entry) -> BaseGeometry:
    return entry.outline.shape if entry.outline is not None else shapely.MultiPolygon()


def looked_at(
    entries: Iterable[Entry], show: Show, shape_of: Callable[[Entry], BaseGeometry] = _outline
) -> BaseGeometry:
    """The union of all inspected areas recorded by the last day shown; empty where there is none.
    shape_of: their outlines, thinned for a drawing.

    Hiding a kind or a person does not make an area unlooked at, so only the date counts.
    """
    shapes = [
        shape_of(entry)
        for entry in entries
        if entry.kind == INSPECTED and entry.outline is not None and show.in_time(entry)
    ]
    return shapely.union_all(shapes, grid_size=1e-4) if shapes else shapely.MultiPolygon()
