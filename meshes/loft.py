"""The loft: wing, tail surface or control surface through any number of sections.

Sections stay in planes y = const; sweep and dihedral move a section and never turn it. Straight
lines join points of equal xi on the same side. Section k is scaled by its chord and turned by its
twist (nose up positive) about its quarter-chord point, which lies at
x = .25 root chord + (y - y root) tan sweep and z = (y - y root) tan dihedral, unless the leading
edge's own place (before twist) or the height is given instead.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from meshes.check import between, number, positive
from meshes.curves import Curve, SectionCurve, Segment
from meshes.errors import ShapeError
from meshes.patch import Array
from meshes.profile import flat_section
from meshes.ruled import RuledPatch
from meshes.sections import Section
from meshes.shape import Join, Sheet


@dataclass(frozen=True)
class LoftSection:
    """One section of a loft.

    station, chord: mm. section: unit-chord section. twist: degrees, nose up positive.
    leading_edge_aft: mm from the root's leading edge aft to this one's, before twist; or else
    sweep: degrees of the quarter-chord line from the root (None: 0, a straight quarter chord).
    height: mm of the quarter-chord point above the root's; or else dihedral: degrees from the root.
    """

    station: float
    chord: float
    section: Section
    twist: float = 0.0
    leading_edge_aft: float | None = None
    sweep: float | None = None
    height: float | None = None
    dihedral: float | None = None


@dataclass(frozen=True)
class LoftPlan:
    """The sections of a loft checked and placed; answers where things lie at a station.

    datum: mm added to y to give a station. ShapeError naming `sections[i].field` for anything that
    cannot be built: fewer than two sections, stations that do not rise, chord not positive, twist
    beyond 30, sweep beyond 70 or dihedral beyond 60 degrees, two ways of giving one thing.
    """

    sections: tuple[LoftSection, ...]
    datum: float = 0.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "sections", tuple(self.sections))
        number("datum", self.datum)
        if len(self.sections) < 2:
            raise ShapeError(
                "sections",
                f"{len(self.sections)} sections were given.",
                "A loft needs 2 or more.",
                "Add the section at the other end.",
            )
        last = -math.inf
        for i, section in enumerate(self.sections):
            self._check(f"sections[{i}]", section)
            if section.station <= last:
                raise ShapeError(
                    f"sections[{i}].station",
                    f"{section.station:g} mm follows {last:g} mm.",
                    "Stations must rise from one section to the next.",
                    "Put the sections in order from root to tip.",
                )
            last = section.station

    @staticmethod
    def _check(name: str, section: LoftSection) -> None:
        number(f"{name}.station", section.station)
        positive(f"{name}.chord", section.chord)
        between(f"{name}.twist", section.twist, -30.0, 30.0, unit="degrees")
        if not isinstance(section.section, Section):
            raise ShapeError(
                f"{name}.section",
                f"{section.section!r} was given.",
                "A four- or five-digit section or a coordinate file is allowed.",
            )
        for one, other, limit in (
            ("leading_edge_aft", "sweep", 70.0),
            ("height", "dihedral", 60.0),
        ):
            length, angle = getattr(section, one), getattr(section, other)
            if length is not None and angle is not None:
                raise ShapeError(
                    f"{name}.{other}",
                    f"Both {one} and {other} were given.",
                    "One of the two is allowed.",
                    "Leave one out.",
                )
            if length is not None:
                between(f"{name}.{one}", length, -1e6, 1e6, unit="mm")
            if angle is not None:
                between(f"{name}.{other}", angle, -limit, limit, unit="degrees")

    @cached_property
    def curves(self) -> tuple[SectionCurve, ...]:
        """The sections as curves in space, root first."""
        root = self.sections[0]
        result = []
        for section in self.sections:
            out = section.station - root.station
            if section.leading_edge_aft is not None:
                aft = section.leading_edge_aft + 0.25 * section.chord
            else:
                aft = 0.25 * root.chord + out * math.tan(math.radians(section.sweep or 0.0))
            if section.height is not None:
                height = float(section.height)
            else:
                height = out * math.tan(math.radians(section.dihedral or 0.0))
            result.append(
                SectionCurve(
                    section.section,
                    float(section.chord),
                    float(section.twist),
                    float(aft),
                    float(section.station - self.datum),
                    height,
                )
            )
        return tuple(result)

    @cached_property
    def patches(self) -> tuple[RuledPatch, ...]:
        """One ruled patch from each section to the next."""
        return tuple(RuledPatch(a, b, float(self.datum)) for a, b in pairwise(self.curves))

    @property
    def stations(self) -> tuple[float, ...]:
        """The sections' stations, mm."""
        return tuple(float(s.station) for s in self.sections)

    def locate(self, station: float, field: str = "station") -> tuple[RuledPatch, float]:
        """The patch that holds a station and its t there; ShapeError for a station off the loft."""
        between(field, station, self.stations[0], self.stations[-1], unit="mm")
        index = int(np.searchsorted(self.stations, station, side="right")) - 1
        patch = self.patches[min(max(index, 0), len(self.patches) - 1)]
        return patch, float(np.clip(patch.t_at_station(station), 0.0, 1.0))

    def curve_at(self, station: float, field: str = "station") -> Curve:
        """The loft's own section at a station; ShapeError for a station off the loft."""
        patch, t = self.locate(station, field)
        return patch.curve_at(t)

    def chord_line(self, station: float) -> tuple[Array, Array]:
        """Leading edge point and the vector from it to the trailing edge's middle, each (3,) mm."""
        patch, t = self.locate(station)
        return patch.chord_line(t)

    def point(self, station: float, chord: float, upper: bool) -> Array:
        """The point (3,) mm of the skin at a station and % chord; ShapeError off the loft."""
        patch, t = self.locate(station)
        between("chord", chord, 0.0, 100.0, unit="% chord")
        s = patch.s_at_chord(t, chord, upper)
        return patch.at(s, t)


def loft(
    sections: Sequence[LoftSection],
    *,
    datum: float = 0.0,
    end_ribs: bool = False,
    open_base: bool = False,
) -> tuple[Sheet, ...]:
    """The sheets of a loft: "skin", and when asked "base", "root rib" and "tip rib".

    datum: mm added to y to give a station. open_base: the strip between the two sides of an open
    trailing edge as a sheet of its own. end_ribs: the two end sections as flat sheets. Neither is
    part of the skin's area. The skin's faces are outer and inner; each interval between two
    sections is one patch, joined to the next at their common section. A closed trailing edge is
    not joined: that is where the sheet ends. ShapeError as `LoftPlan`.
    """
    plan = LoftPlan(tuple(sections), datum)
    sheets = [Sheet("skin", ("outer", "inner"), plan.patches, _chain(len(plan.patches)))]
    if open_base:
        sheets.append(_base(plan))
    if end_ribs:
        for station, name in ((plan.stations[0], "root rib"), (plan.stations[-1], "tip rib")):
            sheets.append(flat_section(*plan.locate(station), name))
    return tuple(sheets)


def _chain(count: int) -> tuple[Join, ...]:
    return tuple(Join(i, "t1", i + 1, "t0") for i in range(count - 1))


def _base(plan: LoftPlan) -> Sheet:
    lines = []
    for i, curve in enumerate(plan.curves):
        if curve.section.closed:
            raise ShapeError(
                "open_base",
                f"The trailing edge of sections[{i}] is closed.",
                "A base needs an open trailing edge at every section.",
                "Use open sections or leave the base out.",
            )
        ends = curve.at(np.array([-1.0, 1.0]))
        lines.append(Segment(ends[1], ends[0]))
    patches = tuple(RuledPatch(a, b, float(plan.datum), chorded=False) for a, b in pairwise(lines))
    return Sheet("base", ("outer", "inner"), patches, _chain(len(patches)))
