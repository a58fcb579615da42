"""Entries by hand: add one, or draw one again."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any

import typer

from mapper.cli import placing as p
from mapper.cli.desk import ActionId, By, Desk, Folder, InJob, Note, day_of, said, time_of
from mapper.cli.main import app
from mapper.cli.record import add
from mapper.cli.reply import size_words, tell
from mapper.errors import MapperError

Which = Annotated[
    str, typer.Argument(help="Start of its id, its name or tag code.", metavar="WHICH")
]
Set = Annotated[
    list[str] | None,
    typer.Option("--set", help="A value, as field=value; repeat for each. `mapper fields KIND` "
                 "lists them. Empty takes the value off.", metavar="FIELD=VALUE"),
]  # fmt: skip
PhotoFile = Annotated[
    list[Path] | None,
    typer.Option("--photo", help="A picture file (JPEG, PNG, WebP); repeat for each.",
                 metavar="FILE"),
]  # fmt: skip
Caption = Annotated[
    list[str] | None,
    typer.Option("--caption", help="Words for the photo, in the same order.", metavar="WORDS"),
]
Scale = Annotated[
    list[float] | None,
    typer.Option("--mm-per-pixel", help="Scale of the photo, in the same order; 0 for not known."),
]
When = Annotated[
    str,
    typer.Option("--when", help="When it was recorded, as 2026-05-31 14:20, if not now."),
]
State = Annotated[str, typer.Option("--state", help="What is left to do.")]
DeferredTo = Annotated[str, typer.Option("--to", help="The day it is deferred to.")]


@add.command("entry")
@p.with_place
def add_entry(
    kind: Annotated[str, typer.Argument(help="finding, marking, coat zone, ...", metavar="KIND")],
    part: Annotated[str, typer.Argument(help="Its tag code, name or id.", metavar="PART")],
    said_where: p.Placing,
    values: Set = None,
    photo: PhotoFile = None,
    caption: Caption = None,
    scale: Scale = None,
    state: State = "open",
    to: DeferredTo = "",
    note: Note = "",
    when: When = "",
    shop: Folder = None,
    job: InJob = "",
    by: By = "",
    action: ActionId = "",
) -> None:
    """Record something on a part: mapper add entry finding LW-03 --stations 1200 1500 --chord 10
    20 --side upper --set what=corrosion --set "depth_found=0.12 +/- 0.02 mm"

    What is said about the place must hold at once; nothing said is the whole skin, unless --place
    says in words where it is. Lengths are in the shop's units or carry their own ("47 in").
    """
    from mapper.job.entry import Place, kind_of
    from mapper.job.outlines import new_entry

    # Quotes round a kind of two words are forgotten easily: "coat-zone" will do.
    kind = kind.strip().lower() if " " in kind else kind.strip().lower().replace("-", " ")
    found = kind_of(kind)
    moment, day = recorded_at(when), day_of(to, "day it is deferred to")
    with Desk(shop, job, by) as desk:
        owner = desk.find("part", part)
        drawn = outline_on(desk, owner, found, said_where)
        given = read_values(desk, found, values or [])
        with desk.act(f"new {kind} on {owner.name}", action, moment) as step:
            entry_id = step.new_id()
            uses = take_photos(step, desk, photo or [], caption or [], scale or [])
            made = new_entry(
                desk.book,
                owner.id,
                kind,
                outline=drawn,
                place=Place(said_where.place) if said_where.place else None,
                values={k: v for k, v in given.items() if v is not None},
                entry_id=entry_id,
                by=desk.person.id,
                device_time=moment,
                state=state,
                deferred_to=day,
                note=note,
                photos=uses,
                when=moment,
            )
            step.add(made)
        said(step, f"{kind} on {owner.name!r}{size_words(desk, made)}: {made.id}")
        tell(desk, made)


def recorded_at(text: str) -> Any:
    """When something was recorded, as typed, None for "". Nobody records tomorrow's work: a day is
    left for machines whose clocks differ."""
    from datetime import timedelta

    from mapper.store.shop import local_now

    moment = time_of(text, "time it was recorded")
    if moment is not None and moment > local_now() + timedelta(days=1):
        raise MapperError(
            f"--when {text} was given.",
            f"It is {local_now():%Y-%m-%d %H:%M} now, and what is recorded has happened.",
            "Check the year; a day that work is put off to is said with --state deferred --to.",
        )
    return moment


def outline_on(desk: Desk, owner: Any, kind: Any, said_where: p.Placing) -> Any:
    """The outline that was said, None for a place in words alone."""
    if not said_where.drawn():
        if said_where.place:
            return None
        if "area" not in kind.regions:
            raise MapperError(
                f"It is not said where the {kind.name} is.",
                f"A {kind.name} may be: {', '.join(sorted(kind.regions))}.",
                "Give --point, --tape or --place.",
            )
    if not owner.geometry:
        raise MapperError(
            f"The part {owner.name!r} has no shape.",
            "Without a shape a place is said in words.",
            "Give --place, or add the part from a part file.",
        )
    return p.outline(said_where, desk.book.geometries[owner.geometry], desk.units)


def read_values(desk: Desk, kind: Any, pairs: list[str]) -> dict[str, Any]:
    """Values by field name from what was typed, in the shop's units and with its own choices."""
    from mapper.job.values import own_choices, parse_pairs

    return parse_pairs(
        kind,
        pairs,
        desk.units,
        find=desk.find_id,
        own=lambda f: own_choices(desk.shop, kind.name, f),
    )


def take_photos(
    step: Any, desk: Desk, files: list[Path], captions: list[str], scales: list[float]
) -> tuple:
    """Photos taken into the shop, with their captions and scales; () for none."""
    from mapper.job.entry import PhotoUse
    from mapper.store.errors import PhotoRefused
    from mapper.units import count_of

    if len(captions) > len(files) or len(scales) > len(files):
        raise MapperError(
            f"{count_of(len(files), 'photo')}, {count_of(len(captions), 'caption')} and "
            f"{count_of(len(scales), 'scale')} were given.",
            "A caption and a scale belong to a photo.",
            "Give --photo as often.",
        )
    uses = []
    for i, file in enumerate(files):
        try:
            stored = step.add_photo(desk.job.id, read_photo(desk, file))
        except PhotoRefused as error:
            told = error.given.removeprefix("The file ")
            words = error.given if told == error.given else f"{file} {told}"
            raise MapperError(words, error.allowed, error.to_do) from error
        scale = scales[i] if i < len(scales) and scales[i] else None
        uses.append(PhotoUse(stored.id, captions[i] if i < len(captions) else "", scale))
    return tuple(uses)


def the_entry(desk: Desk, which: str) -> Any:
    """The entry that answers to an id or tag code."""
    return desk.find("entry", which)


def read_photo(desk: Desk, file: Path) -> bytes:
    """The bytes of a picture file; MapperError for what is no file, and for one beyond the shop's
    limit before it is read: a pipe would never end, a long film would fill the memory."""
    from mapper.store.photos import rules_of

    limit = rules_of(desk.shop.settings).byte_limit
    try:
        if file.exists() and not file.is_file():
            raise MapperError(f"{file} is no file.", "Allowed: a picture file.")
        if file.stat().st_size > limit:
            raise MapperError(
                f"{file} has {file.stat().st_size:,} bytes.",
                f"The shop takes up to {limit:,} (setting photo_byte_limit).",
                "Make the picture smaller.",
            )
        return file.read_bytes()
    except OSError as error:
        raise MapperError(f"{file} cannot be read: {error.strerror}.") from error


@app.command("redraw")
@p.with_place
def redraw(
    which: Which,
    said_where: p.Placing,
    shop: Folder = None,
    job: InJob = "",
    by: By = "",
    action: ActionId = "",
) -> None:
    """Draw an entry's outline again on the part's present shape, or say its place anew."""
    from mapper.job.entry import Place, kind_of
    from mapper.job.outlines import checked_sense, cut

    if not said_where.said():
        raise MapperError("It is not said where.", "The options are those of `add entry`.")
    with Desk(shop, job, by) as desk:
        entry = the_entry(desk, which)
        owner = desk.book.part(entry.part_id)
        drawn = outline_on(desk, owner, kind_of(entry.kind), said_where)
        words = Place(said_where.place) if said_where.place else entry.place
        computed = {f.name for f in kind_of(entry.kind).fields if f.computed}
        changed = replace(
            entry,
            outline=drawn,
            place=words,
            pieces=(),
            geometry=owner.geometry if drawn is not None else entry.geometry,
            unconfirmed="" if drawn is not None else entry.unconfirmed,
            values={k: v for k, v in entry.values.items() if k not in computed},
        )
        changed = cut(desk.book, changed)
        checked_sense(desk.book, changed)
        with desk.act(f"{entry.kind} on {owner.name} drawn again", action) as step:
            step.change(changed)
        said(step, f"{entry.kind} on {owner.name!r} drawn again{size_words(desk, changed)}.")
        tell(desk, changed)
