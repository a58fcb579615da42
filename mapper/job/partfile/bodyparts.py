"""From a part file to the sheets of a body: its skin, closed ends, bulkheads and firewall."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from mapper.errors import MapperError
from mapper.job.partfile.lofted import section_of
from mapper.job.partfile.partsheet import PartSheet, at_key
from mapper.job.partfile.scan import Path
from mapper.job.partfile.spec import PartSpec, RibSpec
from mapper.surface.build import make_skin
from mapper.surface.stretch import stretch_behind
from meshes.body import BodyPatch, body, bulkhead, locate
from meshes.cap import tip_cap
from meshes.errors import ShapeError
from meshes.rings import BoxRing, EllipseRing, OrdinateRing, Ring
from meshes.shape import Sheet
from meshes.turned import GORES, TurnedPatch, disc, turned
from meshes.turnprofile import FormProfile, OrdinateProfile, Profile

# Stretch (%) that gores are made narrow enough for, and the share of the length ahead of which a
# tip may stretch more.
MOST_STRETCH = 1.6
TIP_SHARE = 0.05

# What the constructors call their parameters, and the key a person wrote.
_KEYS = {"corner": "corner_radius", "height": "waterline", "x": "station"}


def rings_of(spec: PartSpec) -> tuple[Ring, ...]:
    """The cross-sections of a body; PartFileError with line and key."""
    return tuple(_ring(spec, row) for row in spec.own["cross_section"])


def _ring(spec: PartSpec, row: Mapping[str, Any]) -> Ring:
    x = float(row["station"]) - spec.datum
    height = float(row.get("waterline", 0.0))
    try:
        if row["form"] == "ellipse":
            return EllipseRing(x, row["width"], row["depth"], height)
        if row["form"] == "rounded box":
            return BoxRing(x, row["width"], row["depth"], row["corner_radius"], height)
        return OrdinateRing(x, np.array(row["points"]), open=spec.shape == "fillet")
    except ShapeError as error:
        path: Path = (*row["path"], _KEYS.get(error.field, error.field))
        raise spec.error(path, error.given, error.allowed, error.to_do) from error


def frames_of(spec: PartSpec) -> tuple[RibSpec, ...]:
    """The frames, bulkheads and firewall of a body."""
    keys = ("path", "name", "station", "web", "alloy", "gauge", "gauge_how", "cladding")
    rows = spec.own.get("frame", ())
    return tuple(RibSpec(**{k: row[k] for k in keys if k in row}) for row in rows)


def _profile(spec: PartSpec) -> Profile:
    own = spec.own
    if own["form"] == "ordinates":
        points = np.array(own["points"]) - np.array([spec.datum, 0.0])
        return OrdinateProfile(
            points, own.get("forward_tip", "round"), own.get("aft_tip", "pointed")
        )
    return FormProfile(own["form"], own["length"], 0.5 * own["diameter"])


def turned_sheets(spec: PartSpec) -> Iterator[PartSheet]:
    """The skin of a body of revolution, and the webs of its plates across.

    Without a word of the file it gets the fewest gores that keep the stretch behind the first 5 %
    of its length below MOST_STRETCH.
    """
    try:
        profile = _profile(spec)
    except ShapeError as error:
        key = {"radius": "diameter", "front": "forward_tip", "aft": "aft_tip"}
        path: Path = (key.get(error.field, error.field),)
        raise spec.error(path, error.given, error.allowed, error.to_do) from error
    asked = spec.own.get("gores")
    gores = _fewest(lambda n: turned(profile, gores=n)) if asked is None else int(asked)
    with at_key(spec):
        (sheet,) = turned(profile, gores=gores, datum=spec.datum)
    yield PartSheet(sheet)
    (first, *_) = sheet.patches
    for row in frames_of(spec):
        if row.web and isinstance(first, TurnedPatch):
            with at_key(spec, row.path):
                plate = disc(first, row.station, f"{row.name} web")
            yield PartSheet(plate, row)


def cap_sheets(spec: PartSpec) -> Iterator[PartSheet]:
    """The skin of a rounded tip, in gores as `turned_sheets`."""
    own = spec.own
    bulge = float(own.get("bulge", 1.0))
    with at_key(spec):
        section = section_of(own["profile"], closed=True)

        def made(gores: int) -> tuple[Sheet, ...]:
            return tip_cap(section, own["chord"], bulge=bulge, gores=gores, datum=spec.datum)

        gores = own.get("gores")
        (sheet,) = made(_fewest(made) if gores is None else int(gores))
    yield PartSheet(sheet)


def _fewest(made: Callable[[int], tuple[Sheet, ...]]) -> int:
    for gores in GORES:
        (sheet,) = made(gores)
        first = replace(sheet, patches=sheet.patches[:1], joins=())
        # One gore tells for all; a coarse one is some hundredths of a percent off.
        try:
            skin = make_skin(first, triangles=3_000)
        except MapperError:
            continue
        low, high = float(skin.station.min()), float(skin.station.max())
        if stretch_behind(skin, low + TIP_SHARE * (high - low)) <= MOST_STRETCH:
            return gores
    return GORES[-1]


def body_sheets(spec: PartSpec) -> Iterator[PartSheet]:
    """The sheets of a body, its skin first."""
    rings = rings_of(spec)
    try:
        sheets = body(
            rings,
            datum=spec.datum,
            front=spec.own.get("front_end") == "closed",
            aft=spec.own.get("aft_end") == "closed",
        )
    except ShapeError as error:
        number, _, name = error.field.partition("].")
        index = int(number.removeprefix("sections[")) if name else -1
        key = _KEYS.get(name, name)
        path: Path = ("cross_section", index, key) if name else ("cross_section",)
        raise spec.error(path, error.given, error.allowed, error.to_do) from error
    yield from (PartSheet(sheet) for sheet in sheets)
    patches = [p for p in sheets[0].patches if isinstance(p, BodyPatch)]
    for row in frames_of(spec):
        if row.web:
            with at_key(spec, row.path):
                sheet = bulkhead(*locate(patches, row.station), f"{row.name} web")
            yield PartSheet(replace(sheet), row)
