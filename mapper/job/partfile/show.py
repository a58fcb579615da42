"""What `mapper shape` and `mapper area` print, as lines of text and as plain records."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from itertools import groupby
from typing import Any

from mapper.job.partfile.keytables import WHOLE
from mapper.job.partfile.reach import reach_words
from mapper.job.partfile.select import Selection, selected, skin_of
from mapper.job.partfile.spec import PartSpec
from mapper.job.partfile.table import area_rows, edge_lengths, lap_rows
from mapper.surface.geometry import Geometry
from mapper.surface.measure import area, perimeter
from mapper.surface.skin import Skin
from mapper.surface.stretch import worst_stretch
from mapper.units import Units

_WIDE = 80
Row = dict[str, Any]


def shape_record(spec: PartSpec, geometry: Geometry) -> dict[str, Any]:
    """Everything `mapper shape` knows, JSON-able, full precision: mm, mm2, percent."""
    table = area_rows(geometry)
    return {
        "part": geometry.part,
        "shape": geometry.shape,
        "side": spec.side,
        "attached_to": geometry.attached_to,
        "measured": {
            "how": geometry.tolerance.how,
            "tolerance_percent": geometry.tolerance.percent,
            "note": geometry.tolerance.note,
        },
        "station_axis": geometry.station_axis,
        "datum_mm": geometry.datum,
        "bearings_inside": geometry.bearings_inside,
        "skins": [_skin_record(geometry, skin, table) for skin in geometry.skins],
        "bays": [
            {"bay": b.name, "skin": b.skin, "area_mm2": area(geometry.skin(b.skin), b.flat)}
            for b in geometry.bays
        ],
        "openings": [
            {"opening": o.name, "skin": o.skin, "area_mm2": area(geometry.skin(o.skin), o.flat)}
            for o in geometry.openings
        ],
        "laps": lap_rows(geometry),
        "counted": list(geometry.counted),
        "warnings": [w.text() for w in spec.warnings],
    }


def _plain(row: Row) -> dict[str, Any]:
    return {
        k: None if v is None or v != v else v.item() if hasattr(v, "item") else v
        for k, v in row.items()
        if k not in ("skin", "panel", "stretch", "face")
    }


def _skin_record(geometry: Geometry, skin: Skin, table: list[Row]) -> dict[str, Any]:
    rows = [row for row in table if row["skin"] == skin.name]
    stretch = worst_stretch(skin)
    whole: dict[str, Any] = {}
    panels: list[dict[str, Any]] = []
    for name, rows_of_panel in groupby(rows, lambda row: str(row["panel"])):
        group = list(rows_of_panel)
        plain = _plain(group[0])
        sizes = ("area_mm2", "low", "high")
        faces = [{"face": r["face"], **{k: float(r[k]) for k in sizes}} for r in group]
        if name == "":
            kept = {k: v for k, v in plain.items()
                    if k not in ("alloy", "gauge_mm", "gauge_how", "cladding", "thin")}  # fmt: skip
            whole = {**kept, "faces": faces}
        else:
            panels.append({"panel": name, **plain, "faces": faces})
    return {
        "skin": skin.name,
        **whole,
        "edges_mm": edge_lengths(skin),
        "stretch": stretch.words,
        "stretch_area_percent": stretch.area_percent,
        "stretch_length_percent": stretch.length_percent,
        "panels": panels,
    }


def shape_lines(spec: PartSpec, geometry: Geometry, units: Units) -> list[str]:
    """The part in words and numbers, at most 80 columns where names allow it."""
    tolerance = geometry.tolerance
    table = area_rows(geometry)
    hand = f", {spec.side}" if geometry.shape in (*WHOLE, "rib", "spar web") else ""
    head = f"{geometry.part}: {geometry.shape}{hand}"
    if geometry.attached_to:
        head += f", attached to {geometry.attached_to}"
    lines = [
        head,
        f"Areas are true areas by {tolerance.how}, ± {tolerance.percent:g} % (95 % half-width).",
    ]
    if tolerance.note:
        lines += textwrap.wrap(f"Measured: {tolerance.note}", _WIDE)
    for skin in geometry.skins:
        lines += ["", *_skin_lines(geometry, skin, table, units)]
    if geometry.openings:
        lines += ["", "Openings, taken off:"]
        sizes = units.column(
            [area(geometry.skin(o.skin), o.flat) for o in geometry.openings], "mm2"
        )
        rows = [(o.name, size, o.skin) for o, size in zip(geometry.openings, sizes)]
        lines += _aligned(("opening", "area", "skin"), rows)
    if geometry.laps:
        lines += ["", "Hidden in laps (both surfaces), not in the areas above:"]
        found = lap_rows(geometry)
        sizes = units.column([r["hidden_mm2"] for r in found], "mm2")
        rows = [(r["lap"], size, r["skin"]) for r, size in zip(found, sizes)]
        lines += _aligned(("lap", "hidden area", "skin"), rows)
    lines += ["", "Counted:"]
    for sentence in geometry.counted:
        lines += textwrap.wrap(sentence, _WIDE, initial_indent="  ", subsequent_indent="  ")
    if geometry.bearings_inside:
        lines.append("Bearings inside: take them out or mask them before anything else.")
    return lines


def _skin_lines(geometry: Geometry, skin: Skin, table: list[Row], units: Units) -> list[str]:
    percent, how = geometry.tolerance.percent, geometry.tolerance.how
    whole, *sheets = (
        row for row in table if row["skin"] == skin.name and row["face"] == skin.face_names[0]
    )
    shown = units.with_tolerance(float(whole["area_mm2"]), "mm2", percent)
    out = [f"{_named(skin)}: {shown}, {how}"]
    if len(skin.face_names) == 1:
        # A part whose area was entered: its map has no sizes to print.
        return [*out, "  one face, all of its surface"]
    out += [f"  each of its faces, {' and '.join(skin.face_names)}, has that area"]
    if whole["openings_mm2"] > 0.0:
        out.append(f"  openings taken off: {units.show(float(whole['openings_mm2']), 'mm2')}")
    laid = f"laid flat: {_size(whole, percent, units)}; {_stretch(skin, units)}"
    out += textwrap.wrap(laid, _WIDE, initial_indent="  ", subsequent_indent="    ")
    edges = "; ".join(
        f"{name} {_length(value, percent, units)}" for name, value in edge_lengths(skin).items()
    )
    out += textwrap.wrap(f"edges: {edges}", _WIDE, initial_indent="  ", subsequent_indent="    ")
    areas = units.column([float(row["area_mm2"]) for row in sheets], "mm2", percent)
    panels = [
        (str(row["panel"]), size, _size(row, percent, units), _sheet(row, units))
        for row, size in zip(sheets, areas)
    ]
    bare = len(panels) == 1 and panels[0][0] in (skin.name, "whole skin") and not panels[0][3]
    return out if bare else out + _aligned(("panel", "area", "laid flat", "sheet"), panels)


def _named(skin: Skin) -> str:
    return "Skin" if skin.name == "skin" else skin.name[:1].upper() + skin.name[1:]


def _length(value: float, percent: float, units: Units) -> str:
    # Areas carry the tolerance; a length carries half of it.
    return units.show(value, "mm", tolerance=value * percent / 200.0 or None)


def _size(row: Any, percent: float, units: Units) -> str:
    along, across = float(row["developed_length_mm"]), float(row["developed_width_mm"])
    first = units.show(along, "mm", tolerance=along * percent / 200.0 or None, with_label=False)
    return f"{first} x {_length(across, percent, units)}"


def _stretch(skin: Skin, units: Units) -> str:
    """What laying flat does, in the units of everything else here."""
    found = worst_stretch(skin)
    if found.station != found.station:
        return found.words
    return (
        f"at most {found.area_percent:.2g} % in area, {found.length_percent:.2g} % in length, worst"
        f" at station {units.show(found.station, 'mm', digits=4)}"
    )


def _sheet(row: Any, units: Units) -> str:
    gauge = row["gauge_mm"]
    words = [
        str(row["alloy"]),
        f"{units.told(float(gauge), 'mm')} {row['gauge_how']}"
        if gauge is not None and gauge == gauge
        else "",
        str(row["cladding"]),
        "thin" if row["thin"] else "",
    ]
    return ", ".join(word for word in words if word)


def _aligned(heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> list[str]:
    """Columns side by side; areas to the right, a last column too long for 80 folded below."""
    if not rows:
        return []
    widths = [max(len(r[i]) for r in (heads, *rows)) for i in range(len(heads))]
    lines = []
    for row in (heads, *rows):
        cells = [
            cell.rjust(w) if i == 1 else cell.ljust(w)
            for i, (cell, w) in enumerate(zip(row, widths))
        ]
        lines.append(["  " + "  ".join(cells[:n]).rstrip() for n in (len(cells) - 1, len(cells))])
    if len(heads) < 3 or max(len(full) for _, full in lines) <= _WIDE:
        return [full for _, full in lines]
    out = [lines[0][0]]
    for row, (short, _) in zip(rows, lines[1:]):
        out.append(short)
        indent = " " * 6
        out += textwrap.wrap(row[-1], _WIDE, initial_indent=indent, subsequent_indent=indent)
    return out


def area_record(geometry: Geometry, selection: Selection) -> dict[str, Any]:
    """The answer of `mapper area`, JSON-able and in full precision: area_mm2, low, high ..."""
    skin = skin_of(geometry, selection)
    region = selected(geometry, selection)
    size = area(skin, region)
    percent = geometry.tolerance.percent / 100.0
    return {
        "part": geometry.part,
        "skin": skin.name,
        "face": selection.face or skin.face_names[0],
        "empty": region.is_empty,
        "area_mm2": size,
        "low": size * (1.0 - percent),
        "high": size * (1.0 + percent),
        "perimeter_mm": perimeter(skin, region),
        "tolerance_percent": geometry.tolerance.percent,
        "how": geometry.tolerance.how,
        "openings": "taken off",
    }


def area_lines(geometry: Geometry, selection: Selection, units: Units) -> list[str]:
    """The answer of `mapper area` in words: what was asked, the area with its tolerance."""
    record = area_record(geometry, selection)
    asked = [f"{geometry.part}, skin {record['skin']}, face {record['face']}"]
    if selection.stations:
        low, high = (units.told(v, "mm") for v in selection.stations)
        asked.append(f"station {low} to {high}")
    if selection.chord:
        asked.append(f"{selection.chord[0]:g} to {selection.chord[1]:g} % chord")
    if selection.angles:
        asked.append(f"{selection.angles[0]:g} to {selection.angles[1]:g} degrees round")
    if selection.side != "both":
        asked.append(selection.side)
    if selection.panel:
        asked.append(f"panel {selection.panel}")
    if selection.circle:
        x, y, radius = (units.told(v, "mm") for v in selection.circle)
        both = ", both sides" if selection.side == "both" else ""
        asked.append(f"plan circle at {x} aft, {y} outboard, radius {radius}{both}")
    if selection.polygon is not None:
        asked.append("the polygon on the flat map")
    lines = textwrap.wrap(", ".join(asked), _WIDE)
    if record["empty"]:
        there = reach_words(geometry, skin_of(geometry, selection), selection, units)
        words = " ".join(["Empty: nothing of the skin lies there (area 0).", *there])
        return lines + textwrap.wrap(words, _WIDE)
    percent, size = record["tolerance_percent"], record["area_mm2"]
    shown = units.with_tolerance(size, "mm2", percent)
    edge = units.show(record["perimeter_mm"], "mm", tolerance=record["perimeter_mm"] * percent / 200
                      or None)  # fmt: skip
    return [*lines, f"Area {shown}, {record['how']}; openings taken off; perimeter {edge}"]
