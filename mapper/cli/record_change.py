"""Records changed by hand: values, the state of an entry, what is taken away, sheets replaced."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Any

import typer

from mapper.cli.desk import ActionId, By, Desk, Folder, InJob, Note, day_of, said, title
from mapper.cli.main import app
from mapper.cli.record_entry import (
    Caption,
    DeferredTo,
    PhotoFile,
    Scale,
    Set,
    Which,
    read_values,
    take_photos,
    the_entry,
)
from mapper.cli.reply import doubt_lines, missing_lines, rule_lines, wrapped
from mapper.errors import MapperError


@app.command("change")
def change(
    which: Which,
    values: Set = None,
    note: Annotated[str | None, typer.Option("--note", help="A new note.")] = None,
    photo: PhotoFile = None,
    caption: Caption = None,
    scale: Scale = None,
    shop: Folder = None,
    job: InJob = "",
    by: By = "",
    action: ActionId = "",
) -> None:
    """Change values of an entry, or of any other record ("name=...", "code=..."), or its note.

    "shop" is the shop itself: mapper change shop --set units=inch
    """
    from mapper.job.outlines import checked_sense

    with Desk(shop, job, by) as desk:
        what, record = ("shop", desk.shop) if which == "shop" else desk.find_any(which)
        if not values and note is None and not photo:
            raise MapperError("Nothing to change was given.", "--set, --note or --photo.")
        if photo and what != "entry":
            raise MapperError(f"A {what} has no photos.", "Entries have.")
        with desk.act(f"{title(what, record)} changed", action) as step:
            if what == "entry":
                changed = _changed_entry(desk, record, values or [])
                checked_sense(desk.book, changed)
                uses = take_photos(step, desk, photo or [], caption or [], scale or [])
                changed = replace(changed, photos=(*changed.photos, *uses))
            else:
                changed = _changed_record(desk, what, record, values or [])
            if note is not None:
                if not hasattr(record, "note"):
                    raise MapperError(f"A {what} has no note.")
                changed = replace(changed, note=note)
            step.change(changed)
        said(step, f"{title(what, changed)} changed.")
        if what == "entry":
            rules = (*doubt_lines(desk, changed), *rule_lines(desk, changed))
            for line in (*rules, *missing_lines(changed)):
                print(wrapped(line))


def _changed_entry(desk: Desk, entry: Any, pairs: list[str]) -> Any:
    from mapper.job.entry import kind_of

    given = read_values(desk, kind_of(entry.kind), pairs)
    merged = {**entry.values, **given}
    return replace(entry, values={k: v for k, v in merged.items() if v is not None})


# What may be changed of other records, by field: the type that `values.parse` reads.
_CHANGEABLE = {
    "opened": "date",
    "since": "date",
    "until": "date",
    "received": "date",
    "best_before": "date",
    "order": "number",
    "quantity": "number",
}
_KEPT = ("id", "version", "job_id", "position_id", "part_id", "geometry", "part_file", "digest",
         "received_digest", "media_type", "width", "height", "taken", "settings", "coats", "skin",
         "panel")  # fmt: skip


def _changed_record(desk: Desk, what: str, record: Any, pairs: list[str]) -> Any:
    from dataclasses import fields

    from mapper.job.fields import Field
    from mapper.job.values import parse

    names = [f.name for f in fields(record) if f.name not in _KEPT]
    if what == "photo":
        names = []
    if what == "finish system":
        names.append("coats")
    given: dict[str, Any] = {}
    for pair in pairs:
        name, sign, text = pair.partition("=")
        key = name.strip().lower().replace(" ", "_").replace("-", "_")
        key = "assembly_id" if key == "assembly" and what == "part" else key
        if not sign or key not in names:
            raise MapperError(
                f"{pair!r} cannot be changed of a {what}.",
                f"As field=value: {', '.join(n.removesuffix('_id') for n in names) or 'nothing'}.",
            )
        if key == "coats":
            from mapper.cli.record import read_coats

            given["coats"] = (*given.get("coats", ()), *read_coats([text], desk))
        elif key == "assembly_id":
            given[key] = desk.find_id("assembly", text)
        elif key in _CHANGEABLE:
            field = Field(key, key, _CHANGEABLE[key], whole=key == "order")
            value = parse(field, text) if text.strip() else None
            given[key] = int(value) if key == "order" and value is not None else value
        else:
            given[key] = text.strip()
    return replace(record, **given)


@app.command("state")
def set_state(
    which: Which,
    state: Annotated[
        str,
        typer.Argument(
            help="open, being worked on, waiting for the inspector, deferred (with --to), closed."
        ),
    ],
    to: DeferredTo = "",
    shop: Folder = None,
    job: InJob = "",
    by: By = "",
    action: ActionId = "",
) -> None:
    """Set what is left to do on an entry; never that something is serviceable."""
    day = day_of(to, "day it is deferred to")
    with Desk(shop, job, by) as desk:
        entry = the_entry(desk, which)
        words = f"{entry.kind} on {desk.book.part(entry.part_id).name}: {state}"
        with desk.act(words, action) as step:
            step.change(replace(entry, state=state, deferred_to=day))
        said(step, f"{words}{f' to {day}' if day else ''}.")


@app.command("remove")
def remove(
    which: Which,
    shop: Folder = None,
    job: InJob = "",
    by: By = "",
    action: ActionId = "",
) -> None:
    """Take away an entry or another record that nothing refers to; the history keeps it."""
    with Desk(shop, job, by) as desk:
        what, record = desk.find_any(which)
        with desk.act(f"{title(what, record)} removed", action) as step:
            if what == "part":
                # The places that came with the part go with it; whatever else is on it stops this.
                places = [x for x in desk.book.positions if x.part_id == record.id]
                ids = {x.id for x in places}
                for item in desk.book.items:
                    if item.position_id in ids:
                        step.remove(item)
                for position in places:
                    step.remove(position)
            step.remove(record)
        said(step, f"{title(what, record)} removed; `mapper undo` brings it back.")


@app.command("replace")
def replace_sheet(
    part: Annotated[str, typer.Argument(help="The part.", metavar="PART")],
    panel: Annotated[str, typer.Option(help="The panel; none for the whole part.")] = "",
    on: Annotated[str, typer.Option(help="Day the old one came out and the new one went in.")] = "",
    name: Annotated[str, typer.Option(help="Name of the new one.", show_default="as the old")] = "",
    made: Annotated[str, typer.Option(help="new sheet, replacement or other words.")] = "new sheet",
    serial: Annotated[str, typer.Option(help="Its serial number.")] = "",
    note: Note = "",
    shop: Folder = None,
    job: InJob = "",
    by: By = "",
    action: ActionId = "",
) -> None:
    """Put a new sheet in a panel's place; what was recorded on the old one stays with it."""
    from mapper.job.records import Item
    from mapper.store.parts import replace_sheet as store_replace

    day = day_of(on, "day of the replacement")
    if day is None:
        raise MapperError("The day of the replacement is not given.", "", "Add --on 2026-05-31.")
    with Desk(shop, job, by) as desk:
        owner = desk.find("part", part)
        places = [x for x in desk.book.positions if x.part_id == owner.id]
        found = [x for x in places if x.panel.casefold() == panel.strip().casefold()]
        if len(found) != 1:
            names = "; ".join(x.panel for x in places if x.panel)
            raise MapperError(f"{owner.name!r} has no panel {panel!r}.", f"It has {names}.")
        with desk.act(f"{found[0].name} replaced", action) as step:
            item = Item(step.new_id(), found[0].id, name or found[0].name, made, serial, note=note)
            old, new = store_replace(step, desk.book, found[0], day, item)
        said(step, f"{old.name!r} out, {new.name!r} in on {day}.")
