"""`mapper remap`, `mapper confirm`, `mapper list unconfirmed`: corrected shapes."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any

import typer

from mapper.cli.desk import ActionId, By, Csv, Desk, Folder, InJob, said
from mapper.cli.findings_map import check_file
from mapper.cli.main import app
from mapper.cli.record_list import PartName, frame, lists
from mapper.cli.reply import wrapped
from mapper.errors import MapperError


@app.command("remap")
def remap(
    part: Annotated[str, typer.Argument(help="The part: tag code, name or id.")],
    file: Annotated[Path, typer.Argument(help="Its corrected part file.", metavar="NEWFILE")],
    keep: Annotated[
        str,
        typer.Option(
            help="places: the numbers were wrong, entries keep their place between rib, seam, spar "
            "and edge; stations: entries keep their station and % chord (flat measures on parts "
            "without chord).",
            metavar="places|stations",
        ),
    ] = "",
    store: Annotated[
        bool, typer.Option("--store", help="Store it; without this it is only shown.")
    ] = False,
    picture: Annotated[
        Path | None,
        typer.Option(help="Draw the moves on the flat map (.svg or .png).", metavar="OUT"),
    ] = None,
    skin: Annotated[
        str, typer.Option(help="Skin to draw.", show_default="that of most entries")
    ] = "",
    face: Annotated[str, typer.Option(help="Face to draw.", show_default="likewise")] = "",
    shop: Folder = None,
    job: InJob = "",
    by: By = "",
    action: ActionId = "",
    csv: Csv = False,
) -> None:
    """Give a part a corrected shape and carry its entries over.

    Lists every entry with how far it moves, and stores nothing until --store is given. What moves
    by more than 2 mm or 1 % of its area, or comes on another panel, or leaves the sheet, is shown
    as unconfirmed everywhere until a person accepts it with `mapper confirm`. One action:
    `mapper undo` takes all of it back.
    """
    from mapper.cli.record import part_file
    from mapper.cli.table import print_table
    from mapper.job.carry.move import KEEPS
    from mapper.store.remap import preview
    from mapper.store.remap import remap as store_remap

    if keep not in KEEPS:
        raise MapperError(
            f"--keep {keep} was given." if keep else "It is not said what entries keep.",
            "--keep places: the numbers were wrong, entries stay between rib, seam and edge. "
            "--keep stations: entries keep their station and % chord.",
        )
    check_file(picture, (".svg", ".png"))
    _, geometry, text = part_file(file)
    with Desk(shop, job, by) as desk:
        owner = desk.find("part", part)
        if store:
            with desk.act(f"shape of {owner.name} corrected, keeping {keep}", action) as step:
                found = store_remap(step, desk.store, desk.book, owner, geometry, keep, text)
        else:
            found = preview(desk.store, desk.book, owner, geometry, keep)
        rows = [row_of(desk, move, csv) for move in found]
        columns = ("id", "kind", "where", "shift", "area", "panel", "place")
        print_table(frame(rows, columns), empty=f"No entry on {owner.name} to carry over.", csv=csv)
        if picture is not None:
            draw(desk, owner, geometry, found, skin, face, picture)
        if not csv:
            for line in (*notes(geometry), *left_behind(desk, owner), summary(found)):
                print(wrapped(line))
        if store:
            said(step, f"Shape of {owner.name!r} corrected; `mapper undo` takes it back.")
        elif not csv:
            print("Nothing is stored yet: add --store.")


def row_of(desk: Desk, move: Any, csv: bool) -> dict[str, Any]:
    """One entry of the list: its shift, change of area and panel, and what becomes of it."""
    from mapper.cli.words import where

    units = desk.units
    shift = move.shift
    if shift is not None:
        shift = units.number(shift, "mm") if csv else units.show(shift, "mm", tolerance=0.1)
    area = move.area
    if area is not None and not csv:
        area = f"{round(area, 2) + 0.0:+.2f} %"  # never "-0.00"
    before, after = ("; ".join(p) or "none" for p in move.panels)
    return {
        "id": move.before.id if csv else move.before.id[:8],
        "kind": move.before.kind,
        "where": where(desk, move.before),
        "shift": shift,
        "area": area,
        "panel": f"{before} -> {after}" if move.other_panel else "",
        "place": fate(move),
    }


def fate(move: Any) -> str:
    """What becomes of an entry: moved, unconfirmed, or left as it is and why."""
    words = {
        "signed": "signed: stays as it is",
        "in words": "in words: stays as it is",
        "off the sheet": "unconfirmed: off the sheet, stays on the old shape",
    }
    if move.stays:
        return words[move.stays]
    if move.corners_off:
        return "unconfirmed: partly off the sheet"
    return "unconfirmed" if move.after.unconfirmed else "kept"


def notes(geometry: Any) -> Sequence[str]:
    """How well a scan was aligned; nothing for other shapes."""
    return [words for words in geometry.counted if "landmarks" in words]


def left_behind(desk: Desk, owner: Any) -> Sequence[str]:
    """Which parts were made from the old sections and stay as they are; nothing where none were."""
    from mapper.job.naming import label
    from mapper.store.remap import leaning

    names = "; ".join(label(part) for part in leaning(desk.book, owner))
    return [
        f"Made with the sections of {owner.name!r}, and not corrected by this: {names}. Correct "
        "each with `mapper remap` and its own file, or its areas stay those of the old shape."
    ] if names else []  # fmt: skip


def summary(found: Sequence[Any]) -> str:
    """How many entries there are, and how many a person has to look at."""
    from mapper.units import count_of

    doubtful = sum(bool(m.after.unconfirmed) for m in found)
    off = sum(m.stays == "off the sheet" for m in found)
    words = f"{count_of(len(found), 'entry', 'entries')}, {doubtful} unconfirmed"
    words += f", {off} of them off the sheet." if off else "."
    return (
        f"{words} Look at them on the metal, then: mapper confirm ENTRY ..." if doubtful else words
    )


def draw(
    desk: Desk, owner: Any, geometry: Any, found: Sequence[Any], skin: str, face: str, out: Path
) -> None:
    """The moves on one face as an SVG, or as a PNG of ten pixels per mm on paper."""
    from mapper.drawing.moves import busiest, draw_moves

    if not (skin and face):
        most = busiest(geometry, [m.after.outline for m in found])
        skin = skin or most[0]
        face = face or (most[1] if skin == most[0] else geometry.skin(skin).face_names[0])
    old = desk.book.geometries[owner.geometry]
    pairs = [(m.before, m.after) for m in found if m.stays not in ("in words", "signed")]
    drawing = draw_moves(old, geometry, skin, face, pairs, units=desk.units, title=owner.name)
    if out.suffix.lower() == ".svg":
        from mapper.drawing.svg import to_svg

        out.write_text(to_svg(drawing), "utf-8")
    else:
        from PIL import Image

        from mapper.drawing.raster import to_pixels

        Image.fromarray(to_pixels(drawing, 10.0 / drawing.scale)[..., :3]).save(out)
    print(out)


@app.command("confirm")
def confirm(
    which: Annotated[
        list[str] | None, typer.Argument(help="Start of ids or tag codes.", metavar="ENTRY...")
    ] = None,
    part: Annotated[str, typer.Option("--part", help="All that are left of this part.")] = "",
    shop: Folder = None,
    job: InJob = "",
    by: By = "",
    action: ActionId = "",
) -> None:
    """Accept where unconfirmed entries lie after a correction of the shape, in one action.

    Look on the metal first: the program only carried them over. What lies elsewhere is drawn again
    with `mapper redraw`, which settles it too.
    """
    from mapper.store.remap import confirm as store_confirm
    from mapper.units import count_of

    if bool(which) == bool(part):
        raise MapperError("It is not said which entries.", "Name them, or give --part PART.")
    with Desk(shop, job, by) as desk:
        if part:
            owner = desk.find("part", part)
            entries = [e for e in desk.book.entries_of(owner.id) if e.unconfirmed]
        else:
            named = (desk.find("entry", one) for one in which or [])
            entries = list({e.id: e for e in named}.values())
        if not entries:
            print("Nothing is unconfirmed there.")
            return
        words = f"place of {count_of(len(entries), 'entry', 'entries')} confirmed"
        with desk.act(words, action) as step:
            store_confirm(step, desk.book, entries)
        said(step, f"{words[0].upper()}{words[1:]}.")


@lists.command("unconfirmed")
def list_unconfirmed(
    part: PartName = "", shop: Folder = None, job: InJob = "", csv: Csv = False
) -> None:
    """Entries whose place nobody has confirmed since the shape of their part was corrected."""
    from mapper.cli.record_list import chosen
    from mapper.cli.table import print_table
    from mapper.cli.words import where
    from mapper.job.telling import doubt

    with Desk(shop, job) as desk:
        rows = []
        for entry in chosen(desk, part, "", ""):
            if entry.unconfirmed:
                owner = desk.book.part(entry.part_id)
                rows.append(
                    {
                        "id": entry.id if csv else entry.id[:8],
                        "part": owner.code or owner.name,
                        "kind": entry.kind,
                        "where": where(desk, entry),
                        "why": doubt(entry, desk.units),
                    }
                )
    columns = ("id", "part", "kind", "where", "why")
    print_table(frame(rows, columns), empty="No place is in doubt.", csv=csv)
