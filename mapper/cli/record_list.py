"""`mapper list`, `show`, `history` and `fields`: reading the record."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from mapper.cli.desk import Csv, Desk, Folder, InJob, title
from mapper.cli.main import app
from mapper.cli.table import print_table
from mapper.errors import MapperError

lists = typer.Typer(
    name="list",
    help="List what is recorded: jobs, parts, entries, panels, people, lots, to-complete ...",
    no_args_is_help=True,
    rich_markup_mode=None,
)
app.add_typer(lists)

PartName = Annotated[str, typer.Option("--part", help="Of this part only.")]
KindName = Annotated[str, typer.Option("--kind", help="Of this kind only.")]
StateName = Annotated[str, typer.Option("--state", help="In this state only.")]
SHORT = 8


def frame(rows: list[dict[str, Any]], columns: tuple[str, ...]) -> Any:
    """A DataFrame with these columns, whether there are rows or not."""
    import pandas as pd

    return pd.DataFrame(rows, columns=list(columns), dtype=object)


def _id(record: Any, csv: bool) -> str:
    return record.id if csv else record.id[:SHORT]


def _day(value: Any) -> str:
    return "" if value is None else str(value.isoformat())


@lists.command("jobs")
def list_jobs(shop: Folder = None, csv: Csv = False) -> None:
    """The jobs of the shop."""
    with Desk(shop) as desk:
        rows = [
            {"id": _id(j, csv), "job": j.name, "airframe": j.airframe, "serial": j.serial,
             "registration": j.registration, "owner": j.owner, "opened": _day(j.opened)}
            for j in desk.store.jobs()
        ]  # fmt: skip
    columns = ("id", "job", "airframe", "serial", "registration", "owner", "opened")
    print_table(frame(rows, columns), empty="No job yet: mapper new job NAME", csv=csv)


@lists.command("people")
def list_people(shop: Folder = None, csv: Csv = False) -> None:
    """The people of the shop."""
    with Desk(shop) as desk:
        rows = [
            {"id": _id(p, csv), "name": p.name, "role": p.role, "licence": p.licence}
            for p in desk.store.people()
        ]
    print_table(frame(rows, ("id", "name", "role", "licence")), empty="Nobody yet.", csv=csv)


@lists.command("lots")
def list_lots(shop: Folder = None, csv: Csv = False) -> None:
    """The lots of the shop."""
    with Desk(shop) as desk:
        rows = [
            {"id": _id(x, csv), "product": x.product, "number": x.number,
             "received": _day(x.received), "best before": _day(x.best_before),
             "quantity": x.quantity, "unit": x.unit, "note": x.note}
            for x in desk.store.lots()
        ]  # fmt: skip
    columns = ("id", "product", "number", "received", "best before", "quantity", "unit", "note")
    print_table(frame(rows, columns), empty="No lot yet: mapper new lot ...", csv=csv)


@lists.command("assemblies")
def list_assemblies(shop: Folder = None, job: InJob = "", csv: Csv = False) -> None:
    """The assemblies of a job, with how many parts each has."""
    with Desk(shop, job) as desk:
        rows = [
            {"id": _id(a, csv), "assembly": a.name,
             "parts": sum(p.assembly_id == a.id for p in desk.book.parts)}
            for a in desk.book.assemblies
        ]  # fmt: skip
    empty = "No assembly yet: mapper add assembly NAME"
    print_table(frame(rows, ("id", "assembly", "parts")), empty=empty, csv=csv)


@lists.command("parts")
def list_parts(shop: Folder = None, job: InJob = "", csv: Csv = False) -> None:
    """The parts of a job: tag code, area with the tolerance of its shape, and how many entries."""
    with Desk(shop, job) as desk:
        assemblies = {a.id: a.name for a in desk.book.assemblies}
        rows = []
        for part in desk.book.parts:
            entries = desk.book.entries_of(part.id)
            rows.append(
                {
                    "id": _id(part, csv),
                    "code": part.code,
                    "part": part.name,
                    "assembly": assemblies[part.assembly_id],
                    **_area(desk, part, csv),
                    "entries": len(entries),
                    "open": sum(e.state != "closed" for e in entries),
                }
            )
        columns = ("id", "code", "part", "assembly", *_area_heads(desk, csv), "entries", "open")
    empty = "No part yet: mapper add part FILE"
    print_table(frame(rows, columns), empty=empty, csv=csv)


def _area_heads(desk: Desk, csv: bool) -> tuple[str, ...]:
    return (f"area {desk.units.label('mm2')}", "+/- %") if csv else ("area of one face",)


def _area(desk: Desk, part: Any, csv: bool) -> dict[str, Any]:
    from mapper.job.outlines import sheet_area

    heads = _area_heads(desk, csv)
    if not part.geometry:
        return dict(zip(heads, (None, None) if csv else ("no shape",)))
    geometry = desk.book.geometries[part.geometry]
    area = sum(sheet_area(geometry, skin.name) for skin in geometry.skins)
    percent = geometry.tolerance.percent
    if csv:
        return dict(zip(heads, (desk.units.number(area, "mm2"), percent)))
    return {heads[0]: desk.units.with_tolerance(area, "mm2", percent)}


@lists.command("panels")
def list_panels(
    part: PartName = "", shop: Folder = None, job: InJob = "", csv: Csv = False
) -> None:
    """The panels, one sheet each: area of one face, alloy, gauge, and what is there now."""
    from datetime import date

    from mapper.surface.measure import area

    with Desk(shop, job) as desk:
        units, today = desk.units, date.today()
        parts = [desk.find("part", part)] if part else list(desk.book.parts)
        rows = []
        heads = (f"area {units.label('mm2')}" if csv else "area", f"gauge {units.label('mm')}")
        for owner in parts:
            if not owner.geometry:
                continue
            geometry = desk.book.geometries[owner.geometry]
            there = _items_now(desk, owner, today)
            for panel in geometry.panels:
                size = area(geometry.skin(panel.skin), panel.flat)
                percent = geometry.tolerance.percent
                shown = units.with_tolerance(size, "mm2", percent)
                gauge = None if panel.gauge is None else units.number(panel.gauge, "mm")
                rows.append(
                    {
                        "part": owner.code or owner.name,
                        "panel": panel.name,
                        heads[0]: units.number(size, "mm2") if csv else shown,
                        "alloy": panel.alloy,
                        heads[1]: gauge if csv or gauge is None else round(gauge, 4),
                        "thin": "yes" if panel.thin else "",
                        "sheet": there.get((panel.skin, panel.name), "nothing"),
                    }
                )
    columns = ("part", "panel", heads[0], "alloy", heads[1], "thin", "sheet")
    print_table(frame(rows, columns), empty="No panel: no part has a shape yet.", csv=csv)


def _items_now(desk: Desk, owner: Any, today: Any) -> dict[tuple[str, str], str]:
    places = {p.id: (p.skin, p.panel) for p in desk.book.positions if p.part_id == owner.id}
    return {
        places[i.position_id]: f"{i.made}{f' {i.serial}' if i.serial else ''}"
        for i in desk.book.items
        if i.position_id in places and i.there(today)
    }


@lists.command("items")
def list_items(part: PartName = "", shop: Folder = None, job: InJob = "", csv: Csv = False) -> None:
    """What is and was in each position: sheets and parts with their dates."""
    with Desk(shop, job) as desk:
        wanted = desk.find("part", part).id if part else ""
        places = {p.id: p for p in desk.book.positions if not wanted or p.part_id == wanted}
        rows = [
            {"id": _id(i, csv), "item": i.name, "made": i.made, "serial": i.serial,
             "since": _day(i.since), "until": _day(i.until), "note": i.note}
            for i in desk.book.items
            if i.position_id in places
        ]  # fmt: skip
    columns = ("id", "item", "made", "serial", "since", "until", "note")
    print_table(frame(rows, columns), empty="Nothing yet.", csv=csv)


@lists.command("finish-systems")
def list_finish_systems(shop: Folder = None, job: InJob = "", csv: Csv = False) -> None:
    """The finish systems of a job, coats from outside in."""
    from mapper.job.kinds.shared import COAT_FIELDS
    from mapper.job.values import told

    with Desk(shop, job) as desk:
        rows = [
            {"id": _id(f, csv), "finish system": f.name, "coat": number,
             **{g.label: told(g, coat.get(g.name), desk.units) for g in COAT_FIELDS}}
            for f in desk.book.finish_systems
            for number, coat in enumerate(f.coats, 1)
        ]  # fmt: skip
    columns = ("id", "finish system", "coat", *(g.label for g in COAT_FIELDS))
    print_table(frame(rows, columns), empty="No finish system yet.", csv=csv)


@lists.command("entries")
def list_entries(
    part: PartName = "",
    kind: KindName = "",
    state: StateName = "",
    shop: Folder = None,
    job: InJob = "",
    csv: Csv = False,
) -> None:
    """The entries of a job by the time they were recorded."""
    from mapper.cli.words import summary, where

    with Desk(shop, job) as desk:
        rows = []
        size = f"area {desk.units.label('mm2')}"
        for entry in chosen(desk, part, kind, state):
            owner = desk.book.part(entry.part_id)
            row = {
                "id": _id(entry, csv),
                "day": "" if entry.device_time is None else entry.device_time.date().isoformat(),
                "part": owner.code or owner.name,
                "kind": entry.kind,
                "where": where(desk, entry) if csv else f"{where(desk, entry)}{_size(desk, entry)}",
                "what": summary(desk, entry),
                "state": entry.state + (f" {entry.deferred_to}" if entry.deferred_to else ""),
            }
            if entry.unconfirmed and not csv:
                row["state"] += ", place unconfirmed"
            if csv:
                row["unconfirmed"] = entry.unconfirmed
                row[size] = _square(desk, entry)
                row["by"], row["note"] = desk.book.person_name(entry.by), entry.note
            rows.append(row)
    columns = ("id", "day", "part", "kind", "where", "what", "state")
    columns += (size, "by", "note", "unconfirmed") if csv else ()
    print_table(frame(rows, columns), empty="No such entry.", csv=csv)


def _square(desk: Desk, entry: Any) -> float | None:
    area = sum(p.area for p in entry.pieces)
    return desk.units.number(area, "mm2") if entry.region == "area" else None


def _size(desk: Desk, entry: Any) -> str:
    if entry.region == "area":
        return f", {desk.units.show(sum(p.area for p in entry.pieces), 'mm2')}"
    return "" if entry.region == "place" else f", {entry.region}"


def chosen(desk: Desk, part: str, kind: str, state: str) -> list[Any]:
    """The entries of a part, kind and state; "" for any."""
    from mapper.job.entry import STATES, kind_of

    if kind:
        kind_of(kind)
    if state and state not in STATES:
        raise MapperError(f"There is no state {state!r}.", f"States: {', '.join(STATES)}.")
    wanted = desk.find("part", part).id if part else ""
    return [
        e
        for e in desk.book.entries
        if (not wanted or e.part_id == wanted)
        and (not kind or e.kind == kind)
        and (not state or e.state == state)
    ]


def _photo_file(desk: Desk, photo_id: str) -> str:
    """Where a photo lies in the shop's folder, with "missing: " before it where it does not."""
    path = desk.book.photo_files.get(photo_id, "")
    return str(path) if path and Path(path).is_file() else f"missing: {path}".rstrip(": ")


@lists.command("photos")
def list_photos(shop: Folder = None, job: InJob = "", csv: Csv = False) -> None:
    """The photos of a job and the entries they belong to; of a file that is gone, "missing"."""
    with Desk(shop, job) as desk:
        photos = {p.id: p for p in desk.book.photos}
        used: dict[str, list[Any]] = {}
        for entry in desk.book.entries:
            for use in entry.photos:
                used.setdefault(use.photo_id, []).append((entry, use))
        rows = [
            {"id": _id(p, csv), "entry": "" if e is None else f"{e.kind} {_id(e, csv)}",
             "caption": "" if u is None else u.caption, "pixels": f"{p.width} x {p.height}",
             "mm per pixel": None if u is None else u.mm_per_pixel,
             "file": _photo_file(desk, p.id)}
            for p in photos.values()
            for e, u in used.get(p.id, [(None, None)])
        ]  # fmt: skip
    columns = ("id", "entry", "caption", "pixels", "mm per pixel", "file")
    print_table(frame(rows, columns), empty="No photo yet.", csv=csv)


@lists.command("to-complete")
def list_to_complete(
    part: PartName = "", kind: KindName = "", shop: Folder = None, job: InJob = "", csv: Csv = False
) -> None:
    """What entries still lack. Only a place and a kind are required, so nothing is held up."""
    from mapper.cli.words import where
    from mapper.job.values import missing

    with Desk(shop, job) as desk:
        rows = []
        for entry in chosen(desk, part, kind, ""):
            owner = desk.book.part(entry.part_id)
            fields = missing(entry)
            if fields:
                rows.append(
                    {
                        "id": _id(entry, csv),
                        "part": owner.code or owner.name,
                        "kind": entry.kind,
                        "where": where(desk, entry),
                        "to complete": ", ".join(f.label for f in fields),
                    }
                )
    columns = ("id", "part", "kind", "where", "to complete")
    print_table(frame(rows, columns), empty="Nothing is left to complete.", csv=csv)


@app.command("show")
def show(
    which: Annotated[str, typer.Argument(help="Start of an id, a name or tag code.")],
    shop: Folder = None,
    job: InJob = "",
) -> None:
    """Show everything recorded about one thing; "shop" shows the shop and its settings."""
    from mapper.cli.words import details

    with Desk(shop, job) as desk:
        what, record = ("shop", desk.shop) if which == "shop" else desk.find_any(which)
        print(title(what, record))
        for name, text in details(desk, what, record):
            print_pair(name, text)


def print_pair(name: str, text: str) -> None:
    """A label and its text on lines of 80 columns or the terminal's width."""
    import shutil

    from mapper.cli.table import folded
    from mapper.job.check import visible

    width = max(40, shutil.get_terminal_size((80, 24)).columns - 26)
    lines = folded(visible(text), width)
    print(f"  {name:<22}  {lines[0]}".rstrip())
    for line in lines[1:]:
        print(f"{'':26}{line}".rstrip())


@app.command("fields")
def fields(
    kind: Annotated[str, typer.Argument(help="A kind of entry; none lists them.")] = "",
    shop: Folder = None,
) -> None:
    """What an entry of a kind may hold: every field, what it takes, and what it is for."""
    from mapper.cli.words import field_lines, kind_lines

    for line in field_lines(kind, shop) if kind else kind_lines():
        print(line)
