"""Coats on a panel's face: which stack is where, and what each go has taken off each coat."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from shapely import MultiPolygon

from mapper.estimate.regions import (
    NOTHING,
    PanelFace,
    PartRegions,
    no_slivers,
    rest_of,
    worked_at,
)
from mapper.job.entry import Entry
from mapper.surface.region import difference, intersection, union

UNKNOWN = "unknown"


@dataclass(frozen=True)
class Coat:
    """One layer of a stack. number: 1 is the outermost, 0 the whole of a stack nobody knows.

    thickness um with its +/- (95 % half-width), None where it was not measured.
    """

    number: int
    kind: str
    colour: str = ""
    thickness: float | None = None
    plus_minus: float | None = None


@dataclass(frozen=True, eq=False)
class Cell:
    """A piece of a coat's region of which the share `left` (0 to 1) is still coated."""

    region: MultiPolygon
    left: float


@dataclass(frozen=True, eq=False)
class CoatState:
    """One coat of one zone after all goes: cells that do not overlap and fill the zone.

    goes: applications and blasting rounds aimed at it; not_stated: those that do not say what they
    left, which are taken to have taken nothing off.
    """

    coat: Coat
    cells: tuple[Cell, ...]
    applications: int = 0
    blastings: int = 0
    not_stated: int = 0


@dataclass(frozen=True, eq=False)
class Zone:
    """Where one stack of coats is on a panel's face; zones of a face do not overlap.

    finish: its name, "unknown" where nobody knows. coats: outermost first; one coat numbered 0
    where unknown; () for bare metal (a finish described with no coats).
    """

    finish: str
    coats: tuple[Coat, ...]
    region: MultiPolygon

    @property
    def unknown(self) -> bool:
        """True where nobody knows what is on here."""
        return any(c.number == 0 for c in self.coats)


def zones_on(part: PartRegions, face: PanelFace) -> tuple[Zone, ...]:
    """The stacks on a panel's face; where two coat zones overlap the later one holds.

    No coat zone: (). Zones of one finish are one Zone.
    """
    return part.kept(("zones", *face.where), lambda: _zones_on(part, face))


def _zones_on(part: PartRegions, face: PanelFace) -> tuple[Zone, ...]:
    taken = NOTHING
    found: dict[tuple[str, tuple[Coat, ...]], list[MultiPolygon]] = {}
    for drawn in reversed(part.on("coat zone", face)):
        shape = MultiPolygon(drawn.shape)
        region = no_slivers(difference(shape, taken), shape.area)
        taken = union(taken, shape)
        if not region.is_empty:
            found.setdefault(stack_of(part, drawn.entry), []).append(region)
    return tuple(Zone(name, coats, union(*pieces)) for (name, coats), pieces in found.items())


def stack_of(part: PartRegions, entry: Entry) -> tuple[str, tuple[Coat, ...]]:
    """The finish's name and coats of a coat zone's entry; "unknown" where none is stated."""
    if entry.values.get("unknown"):
        return UNKNOWN, (Coat(0, UNKNOWN),)
    name = ""
    coats = entry.values.get("coats")
    system_id = entry.values.get("finish_system")
    if not coats and system_id:
        system = next((f for f in part.book.finish_systems if f.id == system_id), None)
        if system is not None:
            name, coats = system.name, system.coats
    if coats is None or (not coats and not name):
        return UNKNOWN, (Coat(0, UNKNOWN),)
    layers = tuple(_coat(i, record) for i, record in enumerate(coats, 1))
    return name or " over ".join(_words(c) for c in layers), layers


def _coat(number: int, record: Mapping[str, Any]) -> Coat:
    thick = record.get("thickness")
    return Coat(
        number,
        str(record.get("kind") or UNKNOWN),
        str(record.get("colour") or ""),
        None if thick is None else float(thick.value),
        None if thick is None else thick.plus_minus,
    )


def _words(coat: Coat) -> str:
    return f"{coat.colour} {coat.kind}".strip()


def coat_states(part: PartRegions, face: PanelFace, zone: Zone) -> tuple[CoatState, ...]:
    """What is left of each coat of a zone after every go recorded on this face, oldest first.

    A go states what it left as a share or an area of its own region. That much of what was there
    before stays, shared in proportion; a later go never puts paint back. A go that names no coats
    is taken as aimed at the outermost coat that is not off yet (an application), or at all of them
    (a blasting round).
    """
    return part.kept(("coats", zone), lambda: _coat_states(part, face, zone))


def _coat_states(part: PartRegions, face: PanelFace, zone: Zone) -> tuple[CoatState, ...]:
    *_, (_, states) = steps_on(part, face, zone)
    return tuple(states[c.number] for c in zone.coats)


def steps_on(
    part: PartRegions, face: PanelFace, zone: Zone
) -> Iterator[tuple[Entry | None, Mapping[int, CoatState]]]:
    """The coats of a zone by number before any go (None), then after each go, oldest first."""
    goes = [d for kind in GOES for d in part.on(kind, face)]
    goes.sort(key=lambda d: worked_at(d.entry))
    states = {c.number: CoatState(c, (Cell(zone.region, 1.0),)) for c in zone.coats}
    yield None, dict(states)
    for go in goes:
        worked = MultiPolygon(go.shape)
        inside = no_slivers(intersection(worked, zone.region), worked.area)
        if inside.is_empty:
            continue
        share = left_share(part, face, go.entry)
        for coat_number in _aimed_at(go.entry, zone, states, inside):
            states[coat_number] = _after(states[coat_number], go.entry, inside, share)
        yield go.entry, dict(states)


GOES = ("application", "blasting round")


def left_share(part: PartRegions, face: PanelFace, entry: Entry) -> float | None:
    """The share (0 to 1) of its own region that a go left coated; None where it does not say."""
    percent = entry.values.get("left_fraction")
    if percent is not None:
        return min(1.0, float(percent) / 100.0)
    area = entry.values.get("left_area")
    if area is None or entry.outline is None:
        return None
    drawn = part.area(face.skin, MultiPolygon(entry.outline.shape))
    return min(1.0, float(area) / drawn) if drawn > 0.0 else None


def _aimed_at(
    entry: Entry, zone: Zone, states: Mapping[int, CoatState], inside: MultiPolygon
) -> tuple[int, ...]:
    """Numbers of the zone's coats that a go is aimed at."""
    if zone.unknown:
        return (0,)
    named = entry.values.get("coats")
    if named:
        return tuple(c.number for c in zone.coats if any(_is(c, record) for record in named))
    if entry.kind == "blasting round":
        return tuple(c.number for c in zone.coats)
    for coat in zone.coats:
        if any(
            c.left > 0.0 and not intersection(c.region, inside).is_empty
            for c in states[coat.number].cells
        ):
            return (coat.number,)
    return ()


def _is(coat: Coat, record: Mapping[str, Any]) -> bool:
    """True when a record of coats aimed at means this coat: by number, else by kind and colour."""
    if record.get("number") is not None:
        return int(record["number"]) == coat.number
    kind, colour = record.get("kind"), record.get("colour")
    return (kind is not None or colour is not None) and (
        (kind is None or kind == coat.kind) and (colour is None or colour == coat.colour)
    )


def _after(state: CoatState, entry: Entry, inside: MultiPolygon, share: float | None) -> CoatState:
    """A coat's state after one go on `inside` that left `share` of it."""
    blasting = entry.kind == "blasting round"
    counts = {
        "applications": state.applications + (not blasting),
        "blastings": state.blastings + blasting,
        "not_stated": state.not_stated + (share is None),
    }
    if share is None:
        return CoatState(state.coat, state.cells, **counts)
    outside, touched = [], []
    for cell in state.cells:
        there = intersection(cell.region, inside)
        if there.is_empty:
            outside.append(cell)
            continue
        touched.append(Cell(there, cell.left))
        rest = rest_of(cell.region, inside)
        if not rest.is_empty:
            outside.append(Cell(rest, cell.left))
    # A ratio of areas of one small place: the flat map's own areas are good enough for it.
    before = sum(c.left * c.region.area for c in touched)
    keep = min(1.0, share * sum(c.region.area for c in touched) / before) if before > 0 else 0.0
    cells = [*outside, *(Cell(c.region, c.left * keep) for c in touched)]
    return CoatState(state.coat, _merged(cells), **counts)


def _merged(cells: list[Cell]) -> tuple[Cell, ...]:
    """Cells with as much left made one, so that many small goes do not make many cells."""
    by_left: dict[float, list[MultiPolygon]] = {}
    for cell in cells:
        by_left.setdefault(round(cell.left, 12), []).append(cell.region)
    return tuple(Cell(union(*regions), left) for left, regions in by_left.items())


def left_area(part: PartRegions, face: PanelFace, state: CoatState) -> float:
    """mm2 still coated with this coat."""
    return sum(c.left * part.area(face.skin, c.region) for c in state.cells if c.left > 0.0)
