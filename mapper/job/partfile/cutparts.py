"""From a part file to a control surface: its plan and its sheets."""

from __future__ import annotations

from collections.abc import Iterator

from mapper.job.partfile.partsheet import PartSheet, at_key
from mapper.job.partfile.spec import PartSpec
from meshes.cut import CutPlan, control_surface
from meshes.loft import LoftPlan, LoftSection


def cut_plan(spec: PartSpec, sections: tuple[LoftSection, ...]) -> CutPlan:
    """The plan of a control surface cut from sections; PartFileError with line and key."""
    own = spec.own
    first, last = sections[0].station, sections[-1].station
    with at_key(spec):
        plan = CutPlan(
            sections,
            spec.datum,
            from_station=first if spec.from_station is None else spec.from_station,
            to_station=last if spec.to_station is None else spec.to_station,
            from_chord=spec.from_chord,
            to_chord=spec.to_chord,
            tip_from_chord=own.get("tip_from_chord"),
            lower_to_chord=own.get("lower_to_chord"),
            nose=own.get("nose", "round"),
            nose_radius=own.get("nose_radius"),
            tip_nose_radius=own.get("tip_nose_radius"),
        )
        # Made here, so that a nose that does not fit is told with its line.
        plan.patches  # noqa: B018
    return plan


def cut_sheets(spec: PartSpec, plan: LoftPlan) -> Iterator[PartSheet]:
    """The skin, base and end plates of a control surface; webs of its ribs come apart."""
    if not isinstance(plan, CutPlan):
        raise spec.error(("shape",), f"{spec.shape} has no sections to be cut from;")
    with at_key(spec):
        sheets = control_surface(
            plan,
            end_plates=spec.end_ribs == "counted",
            open_base=spec.trailing_edge_base == "counted",
        )
    yield from (PartSheet(sheet) for sheet in sheets)
    if plan.slat:
        webs = [row.path for row in spec.rib if row.web] + [r.path for r in spec.spar if r.web]
        if webs:
            raise spec.error(
                (*webs[0], "web"),
                "the webs inside a slat are not made;",
                "false is allowed.",
                "Give the web a part file of its own, as a plate.",
            )
