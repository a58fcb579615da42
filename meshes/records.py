"""Evaluators back from their records, by the format word and number each record carries."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from meshes.body import BodyPatch
from meshes.cap import CapPatch, SectionProfile
from meshes.curves import Blend, Circle, Curve, SectionCurve, Segment
from meshes.cut import CutCurve
from meshes.errors import ShapeError
from meshes.facets import FacetPatch
from meshes.folded import FoldedPatch
from meshes.mirror import MirroredPatch
from meshes.patch import Patch
from meshes.plane import PlanePatch
from meshes.planform import PlanformPatch
from meshes.planlaw import EllipseLaw, Law, SplineLaw
from meshes.rings import BoxRing, EllipseRing, OrdinateRing
from meshes.ruled import RuledPatch
from meshes.sections import Coordinates, Naca4, Naca5, Section
from meshes.turned import TurnedPatch
from meshes.turnprofile import FormProfile, OrdinateProfile, Profile


def _refuse(what: str, record: dict[str, Any], known: dict[str, Any]) -> ShapeError:
    return ShapeError(
        what,
        f"The record's format is {record.get('format')!r}.",
        f"This release reads {', '.join(sorted(known))}.",
        "Open it with a newer release.",
    )


def section_from(record: dict[str, Any]) -> Section:
    """The section of a record; ShapeError for an unknown format."""
    make = SECTIONS.get(record.get("format", ""))
    if make is None:
        raise _refuse("section", record, SECTIONS)
    return make(record)


def curve_from(record: dict[str, Any]) -> Curve:
    """The curve of a record; ShapeError for an unknown format."""
    make = CURVES.get(record.get("format", ""))
    if make is None:
        raise _refuse("curve", record, CURVES)
    return make(record)


def patch_from(record: dict[str, Any]) -> Patch:
    """The patch of a record, evaluating to the last bit as the one recorded; ShapeError for an
    unknown format."""
    make = PATCHES.get(record.get("format", ""))
    if make is None:
        raise _refuse("patch", record, PATCHES)
    return make(record)


def _section_curve(r: dict[str, Any]) -> Curve:
    section = section_from(r["section"])
    return SectionCurve(section, r["chord"], r["twist"], r["aft"], r["y"], r["height"])


def _triple(values: Any) -> tuple[float, float, float]:
    a, b, c = (float(v) for v in values)
    return a, b, c


def _plane(r: dict[str, Any]) -> Patch:
    s0, s1, t0, t1 = (float(v) for v in r["bounds"])
    return PlanePatch(
        np.asarray(r["origin"]),
        np.asarray(r["e1"]),
        np.asarray(r["e2"]),
        (s0, s1, t0, t1),
        _triple(r["stations"]),
        None if r["chords"] is None else _triple(r["chords"]),
    )


def _folded(r: dict[str, Any]) -> Patch:
    s0, s1, t0, t1 = (float(v) for v in r["bounds"])
    return FoldedPatch(
        np.asarray(r["origin"]),
        np.asarray(r["e1"]),
        np.asarray(r["e2"]),
        (s0, s1, t0, t1),
        _triple(r["stations"]),
        None if r["chords"] is None else _triple(r["chords"]),
        np.asarray(r["base"]),
        np.asarray(r["bends"]),
    )


def _ruled(r: dict[str, Any]) -> Patch:
    return RuledPatch(
        curve_from(r["curve0"]),
        curve_from(r["curve1"]),
        r["datum"],
        r["chorded"],
        r["low"],
        r["high"],
    )


def _body(r: dict[str, Any]) -> Patch:
    return BodyPatch(
        curve_from(r["curve0"]), curve_from(r["curve1"]), r["datum"], False, r["low"], r["high"]
    )


def profile_from(record: dict[str, Any]) -> Profile:
    """The profile of a body of revolution of a record; ShapeError for an unknown format."""
    make = PROFILES.get(record.get("format", ""))
    if make is None:
        raise _refuse("profile", record, PROFILES)
    return make(record)


def _turned(r: dict[str, Any]) -> Patch:
    profile = profile_from(r["profile"])
    return TurnedPatch(profile, r["first"], r["last"], r["datum"], r["low"], r["high"])


def _cap(r: dict[str, Any]) -> Patch:
    profile = profile_from(r["profile"])
    return CapPatch(profile, r["first"], r["last"], r["datum"], r["low"], r["high"], r["bulge"])


PROFILES: dict[str, Callable[[dict[str, Any]], Profile]] = {
    "form profile/1": lambda r: FormProfile(r["form"], r["length"], r["radius"], r["start"]),
    "section profile/1": lambda r: SectionProfile(section_from(r["section"]), r["chord"]),
    "ordinate profile/1": lambda r: OrdinateProfile(
        np.asarray(r["points"]),
        r["front"],
        r["aft"],
        np.asarray(r["breaks"]),
        np.asarray(r["coefficients"]),
    ),
}


def law_from(record: dict[str, Any]) -> Law:
    """The law of a curved planform of a record; ShapeError for an unknown format."""
    make = LAWS.get(record.get("format", ""))
    if make is None:
        raise _refuse("law", record, LAWS)
    return make(record)


def _planform(r: dict[str, Any]) -> Patch:
    return PlanformPatch(
        section_from(r["root"]),
        section_from(r["tip"]),
        law_from(r["chord_law"]),
        law_from(r["lead_law"]),
        *(r[k] for k in ("first", "last", "twist", "dihedral", "datum", "low", "high")),
    )


LAWS: dict[str, Callable[[dict[str, Any]], Law]] = {
    "ellipse law/1": lambda r: EllipseLaw(r["scale"], r["span"], r["base"]),
    "spline law/1": lambda r: SplineLaw(np.asarray(r["points"]), np.asarray(r["coefficients"])),
}
SECTIONS: dict[str, Callable[[dict[str, Any]], Section]] = {
    "four-digit/1": lambda r: Naca4(r["digits"], r["closed"]),
    "five-digit/1": lambda r: Naca5(r["digits"], r["closed"]),
    "section points/1": lambda r: Coordinates(
        np.asarray(r["xy"]),
        r["name"],
        np.asarray(r["breaks"]),
        np.asarray(r["coefficients"]),
        np.asarray(r["ends"]),
    ),
}
CURVES: dict[str, Callable[[dict[str, Any]], Curve]] = {
    "section curve/1": _section_curve,
    "segment/1": lambda r: Segment(np.asarray(r["start"]), np.asarray(r["end"])),
    "circle/1": lambda r: Circle(r["radius"], r["y"]),
    "blend/1": lambda r: Blend(curve_from(r["first"]), curve_from(r["second"]), r["t"]),
    "ellipse ring/1": lambda r: EllipseRing(r["x"], r["width"], r["depth"], r["height"]),
    "box ring/1": lambda r: BoxRing(r["x"], r["width"], r["depth"], r["corner"], r["height"]),
    "ordinate ring/1": lambda r: OrdinateRing(
        r["x"],
        np.asarray(r["points"]),
        r["open"],
        np.asarray(r["breaks"]),
        np.asarray(r["coefficients"]),
    ),
    "cut curve/1": lambda r: CutCurve(
        curve_from(r["base"]), r["low"], r["high"], r["tail_low"], r["tail_high"], r["radius"]
    ),
}
PATCHES: dict[str, Callable[[dict[str, Any]], Patch]] = {
    "ruled/1": _ruled,
    "body/1": _body,
    "turned/1": _turned,
    "cap/1": _cap,
    "planform/1": _planform,
    "plane/1": _plane,
    "folded/1": _folded,
    "facets/1": lambda r: FacetPatch(
        np.asarray(r["points"]),
        np.asarray(r["flat"]),
        np.asarray(r["corners"]),
        r["axis"],
        r["datum"],
    ),
    "mirrored patch/1": lambda r: MirroredPatch(patch_from(r["of"])),
}
