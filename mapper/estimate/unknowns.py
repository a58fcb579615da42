"""What is not known and would change the numbers, each with what to do about it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from mapper.estimate.advice import advise
from mapper.estimate.coats import coat_states, zones_on
from mapper.estimate.methods import NOT_STATED
from mapper.estimate.regions import PanelFace, PartRegions, rest_of, together
from mapper.estimate.work import ASSUMED, FAMILY
from mapper.surface.region import union
from mapper.units import Units, count_of


@dataclass(frozen=True)
class Unknown:
    """One gap. part_id; skin, panel, face ("" where it concerns more); topic: one of TOPICS; text
    and what to do, in sentences; area_mm2 it concerns, 0 where it is none."""

    part_id: str
    skin: str
    panel: str
    face: str
    topic: str
    text: str
    to_do: str
    area_mm2: float = 0.0


TOPICS = ("shape", "coats", "gauge", "alloy", "inspection", "trial", "tests", "record")


def unknowns_of(part: PartRegions) -> tuple[Unknown, ...]:
    """Every gap on one part: the part's own first, then panel by panel, face by face."""
    return (*_of_part(part), *(u for face in part.panels for u in _of_face(part, face)))


def _of_part(part: PartRegions) -> Iterator[Unknown]:
    name = part.book.part(part.part_id).name

    def gap(topic: str, text: str, to_do: str) -> Unknown:
        return Unknown(part.part_id, "", "", "", topic, text, to_do)

    if part.geometry is None:
        yield gap(
            "shape",
            f"{name} has no shape: nothing on it is in the totals.",
            "Write its part file, or estimate its area by hand.",
        )
        return
    tolerance = part.geometry.tolerance
    yield gap(
        "shape",
        f"Areas of {name} are known to ± {tolerance.percent:g} % ({tolerance.how}).",
        "Measure again where a panel decides.",
    )
    if part.stray:
        yield gap(
            "record",
            f"On a skin or face that the shape of {name} does not have: "
            f"{count_of(len(part.stray), 'entry', 'entries')}, not counted.",
            "Look there and draw again.",
        )
    if part.on_earlier_shape:
        yield gap(
            "record",
            f"Drawn on an earlier shape of {name}: "
            f"{count_of(len(part.on_earlier_shape), 'entry', 'entries')}, counted where drawn.",
            "Check the places on the present shape.",
        )
    moved = [e for e in part.book.entries_of(part.part_id) if e.unconfirmed]
    moved = [e for e in moved if e not in part.on_earlier_shape]
    if moved:
        yield gap(
            "record",
            f"Carried over to a corrected shape of {name} and not confirmed: "
            f"{count_of(len(moved), 'entry', 'entries')}, counted where shown.",
            "Look at the places on the metal, and confirm them.",
        )
    places = [e for e in part.book.entries_of(part.part_id) if e.outline is None]
    counted = [e for e in places if e.kind not in ("removed part", "reading")]
    if counted:
        yield gap(
            "record",
            f"With words for a place on {name} and no outline: "
            f"{count_of(len(counted), 'entry', 'entries')}, in no area.",
            "Draw outlines where the area matters.",
        )
    trials = part.book.entries_of(part.part_id, "trial patch")
    if not trials and any(zones_on(part, f) for f in part.panels):
        yield gap(
            "trial",
            f"No trial patch on {name}: every rate is a default.",
            "Try the method on a small patch and time it before quoting.",
        )


def _of_face(part: PartRegions, face: PanelFace) -> Iterator[Unknown]:
    units = Units(part.book.shop.units)

    def gap(topic: str, text: str, to_do: str, area: float = 0.0) -> Unknown:
        return Unknown(part.part_id, *face.where, topic, text, to_do, area)

    zones = zones_on(part, face)
    for zone in zones:
        area = part.area(face.skin, zone.region)
        size = units.show(area, "mm2")
        if zone.unknown:
            yield gap(
                "coats",
                f"Nobody knows the coats on {size}: neither kind nor number is assumed, the range "
                "covers both.",
                "Rub a stepped patch wet, after a lead and chromate test.",
                area,
            )
            continue
        thin = [c for c in zone.coats if c.thickness is None]
        if thin:
            yield gap(
                "coats",
                f"{zone.finish}: thickness not measured on {len(thin)} of {len(zone.coats)} coats.",
                "Measure the film.",
                area,
            )
        for kind in sorted({c.kind for c in zone.coats}):
            if kind in ASSUMED:
                yield gap(
                    "coats",
                    f"{zone.finish}: {kind} has no figures of its own and is taken as "
                    f"{ASSUMED[kind]}.",
                    "Time a trial patch.",
                    area,
                )
            elif kind not in FAMILY:
                yield gap(
                    "coats",
                    f"{zone.finish}: {kind} has no figures of its own; the range runs from enamel "
                    "to lacquer.",
                    "Time a trial patch.",
                    area,
                )
        silent = max(s.not_stated for s in coat_states(part, face, zone)) if zone.coats else 0
        if silent:
            yield gap(
                "record",
                f"{zone.finish}: what was left is not said of {count_of(silent, 'go', 'goes')}, "
                "counted as having taken nothing off.",
                "Record the area or share still coated.",
                area,
            )
    yield from _tests(part, face)
    bare = rest_of(face.region, union(*(z.region for z in zones))) if zones else face.region
    area = part.area(face.skin, bare)
    if area > 0.0:
        yield gap(
            "coats",
            f"No coat zone on {units.show(area, 'mm2')}: it is not in the totals.",
            "Record what is on it, or that nobody knows.",
            area,
        )
    looked = together(part.on("inspected area", face))
    area = part.area(face.skin, rest_of(face.region, looked))
    if area > 0.0:
        yield gap(
            "inspection",
            f"Nobody has looked at {units.show(area, 'mm2')}.",
            "Inspect it, or say that it was not.",
            area,
        )
    if face.sheet is not None and face.sheet.thin and part.on("blasting round", face):
        yield gap(
            "record",
            "A blasting round is recorded on thin or delicate sheet, which is never blasted.",
            "Ask the inspector to look at the sheet.",
        )
    elif face.sheet is not None:
        never = advise(face.sheet).never
        media = {str(d.value("media", NOT_STATED)) for d in part.on("blasting round", face)}
        for word in sorted(media.intersection(never)):
            yield gap(
                "record",
                f"A blasting round with {word} is recorded on sheet that it is out for: "
                f"{advise(face.sheet).words}",
                "Ask the inspector to look at the sheet.",
            )
    # Gauge and alloy are the sheet's: once, on its first face.
    if face.face == face.skin.face_names[0]:
        if face.sheet is None or face.sheet.gauge is None:
            yield gap("gauge", "The gauge is not known.", "Measure it beside a sound place.")
        if face.sheet is None or not face.sheet.alloy:
            yield gap("alloy", "The alloy is not known.", "Identify it before any chemical.")


def _tests(part: PartRegions, face: PanelFace) -> Iterator[Unknown]:
    """Coat zones of which nobody has tested the paint for lead or chromate."""
    silent = {
        words
        for drawn in part.on("coat zone", face)
        for name, words in (("lead_test", "lead"), ("chromate_test", "chromate"))
        if drawn.value(name, "not tested") == "not tested"
    }
    if silent:
        yield Unknown(
            part.part_id,
            *face.where,
            "tests",
            f"Paint not tested for {' or '.join(sorted(silent, reverse=True))}.",
            "Test before any dust is made; until then treat it as holding both.",
        )
