"""What cannot have been: values of an entry that contradict each other or the sheet it lies on.

Asked when something is recorded or changed, and never when an old entry is read: that one is kept
as it was written.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from mapper.errors import MapperError
from mapper.job.entry import Entry, kind_of
from mapper.job.fields import Field, Measured
from mapper.job.pieces import cut_at_seams
from mapper.job.values import show
from mapper.surface.clip import whole
from mapper.surface.geometry import Geometry, Panel
from mapper.units import Units

# (earlier, later): the second cannot come before the first.
_IN_TIME = (("start", "stop"), ("on", "off"), ("bare_since", "done_at"), ("mixed_at", "start"))
# (more, less): what a can, or a film, loses it does not gain.
_NO_MORE = (
    ("mass_before", "mass_after"),
    ("volume_before", "volume_after"),
    ("film_wet", "film_dry"),
)
# Findings whose depth takes nothing off the sheet, or goes through it anyhow.
_NO_LOSS = ("dent", "crack", "hole", "filler", "earlier repair", "missing")
_DEPTHS = ("depth_found", "depth_cleaned", "blend_depth")
_SIZES = ("length", "width", "blend_length", "blend_width")
_SLACK = 1.05  # a size is measured over bumps, a sheet is not


def check_sense(entry: Entry, geometry: Geometry | None, units: Units) -> None:
    """MapperError saying what was given, what is allowed and what to do, where an entry cannot be
    true: it stops before it starts, a can gains, a depth is greater than the gauge, a size than the
    sheet. geometry: the version it was drawn on, None for none; units: of the message."""
    _in_time(entry, units)
    _no_more(entry, units)
    outline = entry.outline
    if geometry is not None and outline is not None:
        _on_sheet(entry, geometry, units)
    _depths(entry, panels_under(entry, geometry) if geometry is not None else (), units)


def _both(entry: Entry, one: str, other: str) -> tuple[Field, Any, Field, Any] | None:
    kind = kind_of(entry.kind)
    first, second = kind.field(one), kind.field(other)
    if first is None or second is None or not {one, other} <= set(entry.values):
        return None
    return first, entry.values[one], second, entry.values[other]


def _in_time(entry: Entry, units: Units) -> None:
    for pair in _IN_TIME:
        found = _both(entry, *pair)
        if found is None or found[3] >= found[1]:
            continue
        first, before, second, after = found
        raise MapperError(
            f"The {second.label} is {show(second, after, units)}, before the {first.label}, "
            f"{show(first, before, units)}.",
            f"The {second.label} comes after the {first.label}.",
            "Correct the one that is wrong; past midnight is the next day's date.",
        )


def _no_more(entry: Entry, units: Units) -> None:
    for pair in _NO_MORE:
        found = _both(entry, *pair)
        if found is None or _size(found[3]) <= _size(found[1]):
            continue
        first, before, second, after = found
        raise MapperError(
            f"The {second.label} is {show(second, after, units)}, more than the {first.label}, "
            f"{show(first, before, units)}.",
            f"The {second.label} is at most the {first.label}.",
            "Exchange them, or measure again.",
        )


def _size(value: Any) -> float:
    return value.value if isinstance(value, Measured) else float(value)


def longest_on(geometry: Geometry, skin_name: str) -> float:
    """The longest straight way (mm) on the flat map of a skin: the diagonal of its bounds."""
    left, low, right, high = whole(geometry.skin(skin_name)).bounds
    return math.hypot(right - left, high - low)


def _on_sheet(entry: Entry, geometry: Geometry, units: Units) -> None:
    outline = entry.outline
    if outline is None:
        return
    most = longest_on(geometry, outline.skin)
    for name in _SIZES:
        f = kind_of(entry.kind).field(name)
        value = entry.values.get(name)
        if f is not None and value is not None and value > _SLACK * most:
            raise MapperError(
                f"The {f.label} is {show(f, value, units)}.",
                f"The {outline.skin!r} of {geometry.part} is {units.show(most, 'mm')} from corner "
                "to corner.",
                "Check the number and its unit.",
            )
    left = entry.values.get("left_area")
    if left is not None and outline.region == "area" and left > _SLACK * outline.drawn_area:
        raise MapperError(
            f"The area still coated is {units.show(left, 'mm2')}.",
            f"The whole region is {units.show(outline.drawn_area, 'mm2')}.",
            "Check the number and its unit, or give left_fraction in %.",
        )


def _depths(entry: Entry, panels: tuple[Panel, ...], units: Units) -> None:
    kind = kind_of(entry.kind)
    if kind.field("depth_found") is None or entry.values.get("what") in _NO_LOSS:
        return
    gauge = entry.values.get("gauge")
    known = [p.gauge for p in panels if p.gauge is not None]
    if gauge is None and len(known) == len(panels) and known:
        gauge = Measured(max(known))
    if gauge is None:
        return
    for label, f, depth in _given_depths(entry):
        if depth.value > gauge.value + (gauge.plus_minus or 0.0):
            raise MapperError(
                f"The {label} is {show(f, depth, units)}, and the sheet is "
                f"{show(f, gauge, units)} thick.",
                "A depth is at most the gauge; what goes through the sheet is a hole.",
                "Record what=hole, or the gauge measured here (gauge=...), or check the unit.",
            )


def _given_depths(entry: Entry) -> Iterator[tuple[str, Field, Measured]]:
    kind = kind_of(entry.kind)
    for name in _DEPTHS:
        f = kind.field(name)
        if f is not None and name in entry.values:
            yield f.label, f, entry.values[name]
    attempts = kind.field("attempts")
    for number, row in enumerate(entry.values.get("attempts", ()), 1):
        for f in attempts.of if attempts is not None else ():
            if f.name == "depth_after" and f.name in row:
                yield f"{f.label} attempt {number}", f, row[f.name]


def panels_under(entry: Entry, geometry: Geometry) -> tuple[Panel, ...]:
    """The panels that an entry's outline lies on, in their order; () for a place in words."""
    outline = entry.outline
    if outline is None:
        return ()
    # As the pieces are cut: a hair beyond a seam, from rounding to the grid, is on no other panel.
    names = {name for name, _ in cut_at_seams(geometry, outline)}
    return tuple(p for p in geometry.panels if p.skin == outline.skin and p.name in names)
