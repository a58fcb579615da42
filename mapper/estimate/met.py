"""The rules that recorded media meet on the sheets they lie on, in lines for who records them."""

from __future__ import annotations

from collections.abc import Iterator

from mapper.estimate.advice import warnings_of
from mapper.estimate.cautions import Caution
from mapper.estimate.methods import NOT_STATED
from mapper.job.entry import Entry
from mapper.job.sense import panels_under
from mapper.job.telling import some
from mapper.surface.geometry import Geometry, Panel
from mapper.units import Units


def rule_lines(entry: Entry, geometry: Geometry | None, units: Units) -> Iterator[str]:
    """One heading for each group of sheets, its rules with their sources, and what to do where the
    media are out; nothing for an entry without media or outline, and where no rule is met.

    geometry: the version the entry was drawn on.
    """
    method = {
        "blasting round": entry.values.get("media", NOT_STATED),
        "trial patch": entry.values.get("method", ""),
    }.get(entry.kind, "")
    if not method or entry.outline is None or geometry is None:
        return
    met: dict[Caution, list[str]] = {}
    out = False
    for panel in panels_under(entry, geometry):
        refused, cautions = warnings_of(method, panel)
        out = out or refused
        for caution in cautions:
            met.setdefault(caution, []).append(_sheet(panel, units))
    what = method.removeprefix("other: ")
    for sheets in dict.fromkeys(tuple(sheets) for sheets in met.values()):
        yield f"CAUTION, {what} on {some(sheets)}:"
        for caution, there in met.items():
            if tuple(there) == sheets:
                yield f"- {caution.text} ({caution.source})"
    if out:
        yield "It is recorded, for it is what happened: ask the inspector to look at the sheet."


def _sheet(panel: Panel, units: Units) -> str:
    """A panel with what its sheet is: "upper skin (2024-T3, 0.02 in, thin)"."""
    gauge = "gauge not known" if panel.gauge is None else units.told(panel.gauge, "mm")
    words = [panel.alloy or "alloy not known", gauge, *(["thin"] if panel.thin else [])]
    return f"{panel.name} ({', '.join(words)})"
