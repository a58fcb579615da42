"""What must hold between the keys of a part file: places on the part, names, order, sizes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from shapely import Polygon

from mapper.job.partfile.bodykeys import BODIES
from mapper.job.partfile.bodyrules import check_body, check_round_place
from mapper.job.partfile.check import Notes
from mapper.job.partfile.curvedrules import check_curved
from mapper.job.partfile.cutrules import check_control, own_span
from mapper.job.partfile.enteredparts import check_entered
from mapper.job.partfile.keytables import LOFTED, WHOLE
from mapper.job.partfile.lofted import check_sections, span_of
from mapper.job.partfile.meshrules import check_mesh
from mapper.job.partfile.scan import Path
from mapper.job.partfile.values import INCH, closest, shown

Row = dict[str, Any]

_FOUR: tuple[str, ...] = ("from_station", "from_chord", "to_station", "to_chord")
_LINES = ("rib", "spar", "stringer", "frame", "longeron", "seam", "rivet_row")


def check_rules(values: Row, notes: Notes) -> None:
    """Note every mistake between the keys of checked values, and what looks wrong."""
    units = str(values.get("units", "mm"))
    shape = values.get("shape", "")
    if shape in LOFTED:
        check_sections(values, notes)
    span = span_of(values)
    check_names(values, notes)
    check_limits(values, notes, span, units)
    check_lines(values, notes)
    check_places(values, notes, own_span(values, span), units)
    check_forms(values, notes)
    check_shape(values, notes)
    check_control(values, notes)
    check_curved(values, notes)
    check_entered(values, notes)
    check_mesh(values, notes)
    check_body(values, notes, span, units)
    check_gauges(values, notes, units)
    if values.get("placement") is not None and values.get("attachment") is not None:
        notes.mistake(
            ("attachment",),
            "both [placement] and [attachment] were given;",
            "one of them is allowed.",
            "Keep [placement] for a place in the aircraft, [attachment] for one on a part.",
        )
    measured = values.get("measured") or {}
    if measured.get("how") == "tape" and measured.get("tolerance") == 0.0:
        notes.warn(
            ("measured", "tolerance"),
            "0 % was given for a tape;",
            "no tape is exact.",
            "Give 1 to 3 unless you know better.",
        )


def rows(values: Row, *names: str) -> Iterator[tuple[str, Row]]:
    """(table name, row) of every row of these arrays of tables, in order."""
    for name in names:
        for row in values.get(name, ()):
            yield name, row


def check_names(values: Row, notes: Notes) -> None:
    """Names are unique among lines (a rivet row may be along any), panels, openings, laps."""
    for family in (_LINES, ("panel",), ("opening",), ("lap",)):
        seen: dict[str, tuple[str, Path]] = {}
        for table, row in rows(values, *family):
            name, path = row.get("name"), row["path"]
            if name is None:
                continue
            if name.lower() in seen:
                other, first = seen[name.lower()]
                notes.mistake(
                    (*path, "name"),
                    f"{shown(name)} is already the name of the {other.replace('_', ' ')} on line"
                    f" {notes.lines.of((*first, 'name'))};",
                    "a name may be used once.",
                    "Give this one another name.",
                )
            else:
                seen[name.lower()] = (table, path)


def _inside(
    notes: Notes, path: Path, value: float | None, span: tuple[float, float] | None, units: str
) -> None:
    if value is None or span is None:
        return
    low, high = span
    slack = 1e-9 * max(1.0, abs(low), abs(high))
    if not low - slack <= value <= high + slack:
        scale = INCH if units == "in" else 1.0
        notes.mistake(
            path,
            f"{value / scale:g} {units} is outside the part;",
            f"{low / scale:g} to {high / scale:g} {units} is allowed.",
            "Measure it from the same datum as the sections.",
        )


def _ordered(notes: Notes, path: Path, row: Row, low: str, high: str) -> None:
    first, last = row.get(low), row.get(high)
    if first is not None and last is not None and first >= last:
        notes.mistake(
            (*path, high),
            f"it is not beyond {low};",
            f"{high} greater than {low} is allowed.",
            "Exchange or correct them.",
        )


def check_limits(values: Row, notes: Notes, span: tuple[float, float] | None, units: str) -> None:
    """Stations lie on the part, and every "from" comes before its "to"."""
    top: Row = {"path": ()} | values
    for table, row in [("", top), *rows(values, "rib", "spar", "seam", "stringer", "rivet_row")]:
        path: Path = row["path"]
        # A control surface itself lies on its wing, what is on it on its own part of that.
        here = own_span(values, span) if table else span
        for key in ("station", "from_station", "to_station"):
            _inside(notes, (*path, key), row.get(key), here, units)
        end = here is not None and row.get("station") in here
        if table == "seam" and (end or row.get("chord") == 100.0):
            notes.mistake(
                (*path, "station" if end else "chord"),
                "the seam lies on an end of the part;",
                "a place between the ends is allowed.",
                "An end needs no seam: take it out.",
            )
        if table not in ("stringer", "rivet_row"):
            _ordered(notes, path, row, "from_station", "to_station")
            _ordered(notes, path, row, "from_chord", "to_chord")
    for _, rib in rows(values, "rib"):
        low, high = rib.get("from_chord", 0.0), rib.get("to_chord", 100.0)
        for hole in rib.get("lightening_hole", ()):
            _within(notes, (*hole["path"], "chord"), hole.get("chord"), low, high, "% chord")
    for _, spar in rows(values, "spar"):
        for hole in spar.get("lightening_hole", ()):
            _inside(notes, (*hole["path"], "station"), hole.get("station"), span, units)
    for table, row in rows(values, "rib", "spar"):
        if row.get("lightening_hole") and not row.get("web"):
            notes.mistake(
                (*row["path"], "lightening_hole"),
                f"the {table} has no web that counts;",
                "lightening holes are allowed with web = true.",
                "Add web = true, or take the holes out.",
            )


def _within(
    notes: Notes, path: Path, value: float | None, low: float, high: float, unit: str
) -> None:
    if value is not None and not low <= value <= high:
        notes.mistake(path, f"{value:g} {unit} is off the web;", f"{low:g} to {high:g} is allowed.")


def check_lines(values: Row, notes: Notes) -> None:
    """Seams have one of station and chord; rivet rows and laps run along lines that exist."""
    for _, seam in () if values.get("shape") in BODIES else rows(values, "seam"):
        path = seam["path"]
        station, chord = seam.get("station"), seam.get("chord")
        if notes.bad((*path, "station"), (*path, "chord")):
            continue
        if (station is None) == (chord is None):
            was = (
                "both station and chord were given;" if chord is not None else "neither was given;"
            )
            notes.mistake(
                (*path, "station"),
                was,
                "one of station and chord is allowed.",
                "Give station for a chordwise seam, chord for a spanwise one, or `along`.",
            )
            continue
        wrong = ("from_station", "to_station") if chord is None else ("from_chord", "to_chord")
        for key in wrong:
            if key in seam:
                notes.mistake(
                    (*path, key),
                    f"a seam at one {'station' if chord is None else '% chord'} cannot have it;",
                    f"{' and '.join(_other_limits(wrong))} are allowed.",
                )
    names = {row["name"]: table for table, row in rows(values, *_LINES) if "name" in row}
    for table, row in rows(values, "rivet_row", "lap"):
        path = row["path"]
        along = row.get("along")
        if along is not None and (along not in names or names[along] == "rivet_row"):
            lines = tuple(n for n, kind in names.items() if kind != "rivet_row")
            near = closest(along, lines)
            listed = ", ".join(f'"{n}"' for n in lines[:8]) + (" ..." if len(lines) > 8 else "")
            notes.mistake(
                (*path, "along"),
                f"there is no {_line_words(values)} {shown(along)};",
                f"allowed are {listed}." if lines else "the file names none.",
                f'Did you mean "{near}"?' if near else "Name one of them.",
            )
        ends = [k for k in _FOUR if k in row]
        if table == "rivet_row":
            _check_ends(notes, path, along, ends)
        if table == "rivet_row" and along is None and row.get("offset"):
            notes.mistake(
                (*path, "offset"), "it has no line to be off from;", "`along` is needed with it."
            )
    for table, row in rows(values, "stringer", "rivet_row"):
        ends = [k for k in _FOUR if k in row]
        if table == "stringer":
            _check_ends(notes, row["path"], None, ends)
        if len(ends) == 4 and all(row[f"from_{k}"] == row[f"to_{k}"] for k in ("station", "chord")):
            notes.mistake(
                (*row["path"], "to_station"),
                "both ends are one place;",
                "two different places are allowed.",
                "Measure the other end.",
            )


def _line_words(values: Row) -> str:
    body = values.get("shape") in BODIES
    return "frame, longeron or seam" if body else "rib, spar, stringer or seam"


def _other_limits(keys: tuple[str, str]) -> tuple[str, str]:
    stations = ("from_station", "to_station")
    return ("from_chord", "to_chord") if keys == stations else stations


def _check_ends(notes: Notes, path: Path, along: str | None, ends: list[str]) -> None:
    if any(notes.bad((*path, key)) for key in (*_FOUR, "along")):
        return
    if along is not None and ends:
        notes.mistake(
            (*path, ends[0]),
            "both `along` and ends were given;",
            "one of the two ways is allowed.",
            "Take the ends out, or `along`.",
        )
    if along is None and len(ends) < 4:
        lacking = ", ".join(k for k in _FOUR if k not in ends)
        notes.mistake(
            (*path, next(k for k in _FOUR if k not in ends)),
            f"{lacking} not given;",
            "all four of " + ", ".join(_FOUR) + " are needed.",
            "Give both ends of the line.",
        )


def check_places(values: Row, notes: Notes, span: tuple[float, float] | None, units: str) -> None:
    """Openings and panels have a whole place, and it lies on the part."""
    chorded = values.get("shape") in WHOLE or values.get("form") == "piece of skin"
    for table, row in rows(values, "opening", "panel"):
        path = row["path"]
        said: list[str] = [k for k in ("station", "chord", "angle", "side") if k in row]
        if any(notes.bad((*path, k)) for k in ("station", "chord", "side", "at", "skin")):
            continue
        _inside(notes, (*path, "station"), row.get("station"), span, units)
        if check_round_place(values, row, table, said, notes):
            continue
        by_chord = chorded and row.get("skin", "skin") in ("skin", "cover")
        lacking = [k for k in ("station", "chord", "side") if k not in said]
        if "at" in row and said:
            notes.mistake(
                (*path, "at"),
                f"both `at` and {said[0]} were given;",
                "one of the two ways is allowed.",
                "Keep `at` for the flat map, or station, chord and side.",
            )
        elif "at" in row or (not said and row.get("form") == "polygon"):
            # A polygon without a place has its corners on the flat map itself.
            continue
        elif by_chord and lacking:
            notes.mistake(
                (*path, lacking[0]),
                f"its place is not whole: {', '.join(lacking)} not given;",
                "station, chord and side together (or `at`) are needed.",
                "Measure it to the middle of the opening." if table == "opening" else "",
            )
        elif not by_chord and said:
            notes.mistake(
                (*path, said[0]),
                "a flat piece or tube is not measured by station and % chord;",
                "`at` is allowed.",
                "Give the place as at = [outboard, aft] on the flat map.",
            )
        elif not by_chord and table == "opening":
            notes.mistake(
                (*path, "at"), "its place is not given;", "`at` on the flat map is needed."
            )


_SIZES = {
    "round": ("diameter",),
    "oval": ("length", "width"),
    "rectangle": ("length", "width"),
    "polygon": ("corners",),
}


def check_forms(values: Row, notes: Notes) -> None:
    """A form has its own sizes and no others; a polygon's sides do not cross."""
    found = [row for _, row in rows(values, "opening")]
    if values.get("shape") in ("plate", "access cover"):
        found.append({"path": ()} | values)
    for row in found:
        form, path = row.get("form"), row["path"]
        if form is None:
            continue
        needed = _SIZES.get(form, ())
        extra = ("corner_radius",) if form == "rectangle" else ()
        for key in needed:
            if key not in row and not notes.bad((*path, key)):
                notes.mistake((*path, key), "it is missing;", f"a {form} form needs it.")
        for key in ("diameter", "length", "width", "corner_radius", "corners"):
            if key in row and key not in (*needed, *extra):
                words = " and ".join((*needed, *extra)) or "no sizes"
                notes.mistake((*path, key), f"a {form} form has none;", f"{words} are allowed.")
        corners = row.get("corners", ())
        if len(corners) >= 3:
            ring = Polygon(corners)
            if not ring.is_valid or ring.area <= 0.0:
                notes.mistake(
                    (*path, "corners"),
                    "the sides cross, or enclose nothing;",
                    "corners in order round the outline are allowed.",
                    "Go round it once, in one direction.",
                )
        radius, sizes = row.get("corner_radius", 0.0), [row.get("length"), row.get("width")]
        if form == "rectangle" and all(sizes) and 2.0 * radius > min(s for s in sizes if s):
            notes.mistake(
                (*path, "corner_radius"),
                "the corners do not fit;",
                "half of the shorter side or less is allowed.",
            )


def check_shape(values: Row, notes: Notes) -> None:
    """What single shapes need: a tube its sizes, a rib its station."""
    shape = values.get("shape")
    if shape == "tube":
        for key in ("diameter", "length"):
            if key not in values and not notes.bad((key,)):
                notes.mistake((key,), "it is missing;", "a tube needs it.")
    if shape in ("plate", "access cover") and values.get("form") != "piece of skin":
        flat = ("from_station", "to_station", "from_chord", "to_chord", "on_side", "section")
        for key in flat:
            if key in values:
                notes.mistake((key,), "a flat cover has none;", 'it is for form = "piece of skin".')
    hinge = values.get("hinge_line") or {}
    ends = ("from_station", "to_station")
    if all(k in hinge for k in ends) and hinge["from_station"] == hinge["to_station"]:
        notes.mistake(
            ("hinge_line", "to_station"),
            "both ends have one station;",
            "two different stations are allowed.",
        )


def check_gauges(values: Row, notes: Notes, units: str) -> None:
    """A gauge or chord that is clearly in the other unit is a warning, not a mistake."""
    sheet = {"path": ("sheet",)} | (values.get("sheet") or {})
    for row in [sheet, *(r for _, r in rows(values, "panel", "rib", "spar"))]:
        gauge = row.get("gauge")
        path = (*row["path"], "gauge")
        if gauge is not None and units == "mm" and gauge < 0.2:
            notes.warn(
                path,
                f"{gauge:g} mm was given;",
                f"sheet is rarely so thin: {gauge:g} in would be {gauge * INCH:.2f} mm.",
                f"If it is inches, write {gauge * INCH:.3g}.",
            )
        if gauge is not None and units == "in" and gauge > 0.3 * INCH:
            inches = gauge / INCH
            thou = f"thousandths, write {inches / 1000:.3g}; if it is " if inches >= 5 else ""
            notes.warn(
                path,
                f"{inches:g} in was given;",
                f"sheet is rarely so thick: {inches:g} mm would be {inches / INCH:.3f} in.",
                f"If it is {thou}mm, write {inches / INCH:.3g}.",
            )
    chords = [r["chord"] for _, r in rows(values, "section") if "chord" in r]
    path = ("section", 0, "chord")
    if chords and units == "in" and max(chords) > 400 * INCH:
        notes.warn(path, f"{max(chords) / INCH:g} in is over ten metres;", "", "Is it mm?")
    if chords and units == "mm" and max(chords) < 100:
        notes.warn(path, f"{max(chords):g} mm is a very small chord;", "", "Is it inches?")
