"""From a part file to a wing with a curved planform: its plan and its sheets."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, cast

import numpy as np

from mapper.job.partfile.lofted import section_of
from mapper.job.partfile.partsheet import PartSheet, at_key
from mapper.job.partfile.spec import PartSpec
from meshes.check import between
from meshes.errors import ShapeError
from meshes.loft import LoftPlan, LoftSection
from meshes.planform import PlanformPatch, curved_wing, planform
from meshes.planlaw import EllipseLaw, SplineLaw
from meshes.profile import flat_section
from meshes.ruled import RuledPatch


@dataclass(frozen=True)
class CurvedPlan(LoftPlan):
    """Answers where things lie on a curved wing, as a loft's plan does, between its two ends.

    whole: its surface. sections hold its two ends.
    """

    whole: PlanformPatch | None = None

    def locate(self, station: float, field: str = "station") -> tuple[RuledPatch, float]:
        """The surface and its t at a station; ShapeError for a station off the wing."""
        between(field, station, self.stations[0], self.stations[-1], unit="mm")
        if self.whole is None:
            raise ShapeError("planform", "The plan has no surface.", "")
        t = float(np.clip(self.whole.t_at_station(station), 0.0, 1.0))
        # It answers all that a ruled patch is asked through its plan.
        return cast(RuledPatch, self.whole), t


def curved_plan(spec: PartSpec) -> CurvedPlan:
    """The plan of a curved wing; PartFileError with line and key."""
    own = spec.own
    with at_key(spec):
        root = section_of(own["profile"], closed=True)
        tip = section_of(own.get("tip_profile", own["profile"]), closed=True)
        span, chord_law, lead_law = _laws(spec, own)
        whole = planform(
            root,
            tip,
            chord_law,
            lead_law,
            span,
            washout=own.get("washout", 0.0),
            dihedral=own.get("dihedral", 0.0),
            datum=spec.datum,
        )
        ends = tuple(
            LoftSection(spec.datum + out, float(chord_law.at(out)), section)
            for out, section in ((0.0, root), (span, tip))
        )
        return CurvedPlan(ends, spec.datum, whole)


def _laws(spec: PartSpec, own: Any) -> tuple[float, EllipseLaw | SplineLaw, EllipseLaw | SplineLaw]:
    if own["planform"] == "ellipse":
        chord, span = float(own["root_chord"]), float(own["semi_span"])
        share = float(own.get("straight_chord", 25.0)) / 100.0
        lead = EllipseLaw(-share * chord, span, share * chord)
        return float(own["to_station"]) - spec.datum, EllipseLaw(chord, span), lead
    shift = np.array([spec.datum, 0.0])
    chords, leads = np.array(own["chords"]) - shift, np.array(own["leading_edges"]) - shift
    leads[:, 1] -= leads[0, 1]
    return float(chords[-1, 0]), SplineLaw(chords), SplineLaw(leads)


def curved_sheets(spec: PartSpec, plan: LoftPlan) -> Iterator[PartSheet]:
    """The skin of a curved wing and, when asked, its end ribs; webs of its ribs come apart."""
    if not isinstance(plan, CurvedPlan) or plan.whole is None:
        raise spec.error(("shape",), f"{spec.shape} has no planform;")
    (sheet,) = curved_wing(plan.whole)
    yield PartSheet(sheet)
    if spec.end_ribs == "counted":
        for station, name in ((plan.stations[0], "root rib"), (plan.stations[-1], "tip rib")):
            yield PartSheet(flat_section(*plan.locate(station), name))
    for row in spec.spar:
        if row.web:
            raise spec.error(
                (*row.path, "web"),
                "the webs of spars in a curved wing are not made;",
                "false is allowed.",
                "Give the web a part file of its own, as a spar web or a plate.",
            )
