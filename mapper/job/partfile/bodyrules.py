"""What must hold between the keys of a body: its cross-sections, lines and places."""

from __future__ import annotations

from typing import Any

from mapper.job.partfile.bodykeys import BODIES, CAP, TURNED
from mapper.job.partfile.check import Notes
from mapper.job.partfile.lofted import profile_mistake
from mapper.job.partfile.scan import Path
from mapper.job.partfile.values import INCH, shown
from meshes.turned import GORES

Row = dict[str, Any]
Span = tuple[float, float]

_SIZES = {
    "ellipse": ("width", "depth"),
    "rounded box": ("width", "depth", "corner_radius"),
    "ordinates": ("points",),
}


def check_body(values: Row, notes: Notes, span: Span | None, units: str) -> None:
    """Note every mistake in a body's cross-sections and lines; another shape has none."""
    if values.get("shape") not in BODIES:
        return
    if values.get("shape") in TURNED:
        _check_profile(values, notes)
    elif values.get("shape") == CAP:
        wrong = profile_mistake(values["profile"]) if "profile" in values else None
        if wrong:
            notes.mistake(("profile",), f"{shown(values['profile'])} was given;", *wrong)
        _check_gores(values, notes)
    else:
        _check_sections(values, notes, units)
    for table in ("frame", "longeron", "seam"):
        for row in values.get(table, ()):
            _check_line(table, row, notes, span, units)


def _check_sections(values: Row, notes: Notes, units: str) -> None:
    found = values.get("cross_section", ())
    if len(found) < 2 and not notes.bad(("cross_section",)):
        notes.mistake(
            ("cross_section",),
            f"{len(found) or 'no'} cross-section{'' if len(found) == 1 else 's'} given;",
            "2 or more are needed.",
            "Write [[cross_section]] once for each, from forward to aft.",
        )
    scale = INCH if units == "in" else 1.0
    before: float | None = None
    form = "ordinates" if values.get("shape") == "fillet" else None
    for row in found:
        path: Path = row["path"]
        station = row.get("station")
        if station is not None and before is not None and station <= before:
            notes.mistake(
                (*path, "station"),
                f"{station / scale:g} {units} does not lie aft of the cross-section before"
                f" ({before / scale:g} {units});",
                "stations that grow from one to the next are allowed.",
                "Put the cross-sections in order from forward to aft.",
            )
        before = station if station is not None else before
        if notes.bad((*path, "form")):
            continue
        if values.get("shape") == "fillet" and row.get("form", "ordinates") != "ordinates":
            notes.mistake((*path, "form"), "a fillet is an open strip;", '"ordinates" is allowed.')
            continue
        form = row.get("form", form)
        if form is None:
            notes.mistake(
                (*path, "form"),
                "the first cross-section has no form;",
                '"ellipse", "rounded box" or "ordinates" is needed.',
            )
            form = "ellipse"
            continue
        row["form"] = form
        _check_sizes(form, row, notes)


def _check_sizes(form: str, row: Row, notes: Notes) -> None:
    path: Path = row["path"]
    needed = _SIZES[form]
    for key in needed:
        if key not in row and not notes.bad((*path, key)):
            notes.mistake((*path, key), "it is missing;", f"{_a(form)} needs it.")
    extra = () if form == "ordinates" else ("waterline",)
    for key in ("width", "depth", "corner_radius", "points", "waterline"):
        if key in row and key not in (*needed, *extra):
            words = " and ".join((*needed, *extra))
            notes.mistake((*path, key), f"{_a(form)} has none;", f"{words} are allowed.")


def _check_profile(values: Row, notes: Notes) -> None:
    form = values.get("form")
    if form is None or notes.bad(("form",)):
        return
    needed = ("points",) if form == "ordinates" else ("diameter", "length")
    extra = ("forward_tip", "aft_tip") if form == "ordinates" else ()
    what = "one by ordinates" if form == "ordinates" else f"the form {form}"
    for key in needed:
        if key not in values and not notes.bad((key,)):
            notes.mistake((key,), "it is missing;", f"{what} needs it.")
    for key in ("points", "diameter", "length", "forward_tip", "aft_tip"):
        if key in values and key not in (*needed, *extra):
            words = " and ".join(needed)
            notes.mistake((key,), f"{what} has none;", f"{words} are allowed.")
    _check_gores(values, notes)


def _check_gores(values: Row, notes: Notes) -> None:
    gores = values.get("gores")
    if gores is not None and gores not in GORES:
        listed = ", ".join(str(g) for g in GORES)
        notes.mistake(("gores",), f"{gores:g} was given;", f"{listed} are allowed.")


def _a(form: str) -> str:
    return {"ellipse": "an ellipse", "rounded box": "a rounded box"}.get(form, "one by ordinates")


def _check_line(table: str, row: Row, notes: Notes, span: Span | None, units: str) -> None:
    path: Path = row["path"]
    scale = INCH if units == "in" else 1.0
    for key in ("station", "from_station", "to_station"):
        value = row.get(key)
        if value is None or span is None or span[0] <= value <= span[1]:
            continue
        notes.mistake(
            (*path, key),
            f"{value / scale:g} {units} is outside the part;",
            f"{span[0] / scale:g} to {span[1] / scale:g} {units} is allowed.",
            "Measure it from the same datum as the cross-sections.",
        )
    low, high = row.get("from_station"), row.get("to_station")
    if low is not None and high is not None and low >= high:
        notes.mistake(
            (*path, "to_station"),
            "it is not beyond from_station;",
            "to_station greater than from_station is allowed.",
            "Exchange or correct them.",
        )
    if table == "frame":
        return
    ways = ("angle", "waterline") if table == "longeron" else ("station", "angle", "waterline")
    if any(notes.bad((*path, key)) for key in (*ways, "along")):
        return
    said = [key for key in ways if key in row]
    if len(said) != 1:
        notes.mistake(
            (*path, said[-1] if said else ways[0]),
            f"{' and '.join(said)} were given;" if said else f"{' or '.join(ways)} is missing;",
            f"one of {', '.join(ways)} is needed.",
            "Give the station of a line round the body, the angle or waterline of one along it.",
        )
        return
    if said != ["waterline"] and row.get("side", "both") != "both":
        notes.mistake((*path, "side"), f"a line at one {said[0]} has none;", "it is for waterline.")
    wrong = ("from_station", "to_station") if said == ["station"] else ("from_angle", "to_angle")
    for key in wrong:
        if key in row:
            notes.mistake((*path, key), f"a line at one {said[0]} cannot have it;", "Take it out.")
    if said == ["station"]:
        _check_round(row, notes, span)


def _check_round(row: Row, notes: Notes, span: Span | None) -> None:
    path: Path = row["path"]
    if span is not None and row["station"] in span:
        notes.mistake(
            (*path, "station"),
            "the seam lies on an end of the part;",
            "a place between the ends is allowed.",
            "An end needs no seam: take it out.",
        )
    ends = [key for key in ("from_angle", "to_angle") if key in row]
    if len(ends) == 1:
        notes.mistake(
            (*path, ends[0]), f"{ends[0]} alone was given;", "both ends or neither are allowed."
        )
    elif ends and row["from_angle"] % 360.0 == row["to_angle"] % 360.0:
        notes.mistake(
            (*path, "to_angle"),
            "both ends have one angle;",
            "two different angles are allowed.",
            "Leave both out for a seam all the way round.",
        )


def check_round_place(values: Row, row: Row, table: str, said: list[str], notes: Notes) -> bool:
    """Check the place of an opening or panel on a body's skin; False for another shape's."""
    if values.get("shape") not in BODIES or row.get("skin", "skin") != "skin":
        return False
    path: Path = row["path"]
    wanted = ["station"] if values.get("shape") == "fillet" else ["station", "angle"]
    lacking = [key for key in wanted if key not in said]
    if notes.bad((*path, "angle")):
        return True
    if "at" in row:
        if said:
            notes.mistake(
                (*path, "at"),
                f"both `at` and {said[0]} were given;",
                "one of the two ways is allowed.",
                "Keep `at` for the flat map, or station and angle.",
            )
    elif values.get("shape") == "fillet":
        if table == "opening" or said:
            notes.mistake(
                (*path, said[0] if said else "at"),
                "a fillet has no angle round;",
                "`at` on the flat map is needed.",
            )
    elif lacking and (said or (table == "opening" and row.get("form") != "polygon")):
        notes.mistake(
            (*path, lacking[0]),
            f"its place is not whole: {', '.join(lacking)} not given;",
            "station and angle together (or `at`) are needed.",
            "Measure it to the middle of the opening." if table == "opening" else "",
        )
    return True
