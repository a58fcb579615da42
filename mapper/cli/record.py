"""`mapper new` and `mapper add`: a shop, its people, jobs and lots; what a job is made of."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from mapper.cli.desk import ActionId, By, Desk, Folder, InJob, Note, day_of, said
from mapper.cli.main import app
from mapper.errors import MapperError

new = typer.Typer(
    name="new",
    help="Make a shop, a person, a job or a lot.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
add = typer.Typer(
    name="add",
    help="Add to a job: an assembly, a part, a finish system, an entry with its photos.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
app.add_typer(new)
app.add_typer(add)

Name = Annotated[str, typer.Argument(help="What people call it.", metavar="NAME")]


@new.command("shop")
def new_shop(
    folder: Annotated[Path, typer.Argument(help="New or empty folder.", metavar="FOLDER")],
    name: Name,
    person: Annotated[str, typer.Option(help="Name of the first person, who makes the shop.")],
    role: Annotated[str, typer.Option(help="What that person does.")] = "",
    licence: Annotated[str, typer.Option(help="That person's licence.")] = "",
    units: Annotated[str, typer.Option(help="metric or inch.")] = "metric",
) -> None:
    """Make a shop in a new folder, with its first person."""
    from mapper.job.records import Person, Shop, new_id
    from mapper.store.shop import create

    # A part file calls them "in" and "mm".
    units = {"in": "inch", "inches": "inch", "mm": "metric"}.get(units.strip().lower(), units)
    made = Shop(new_id(), name, units)
    with create(folder, made, Person(new_id(), person, role, licence)):
        print(f"Shop {name!r} in {folder}.")


@new.command("person")
def new_person(
    name: Name,
    role: Annotated[str, typer.Option(help="What the person does.")] = "",
    licence: Annotated[str, typer.Option(help="Licence: kind and number.")] = "",
    shop: Folder = None,
    by: By = "",
    action: ActionId = "",
) -> None:
    """Add a person who records or decides."""
    from mapper.job.records import Person

    with Desk(shop, by=by) as desk:
        with desk.act(f"new person {name}", action) as step:
            made = step.add(Person(step.new_id(), name, role, licence))
        said(step, f"Person {name!r}: {made.id}")


@new.command("job")
def new_job(
    name: Name,
    airframe: Annotated[str, typer.Option(help="Type of the airframe.")] = "",
    serial: Annotated[str, typer.Option(help="Its serial number.")] = "",
    registration: Annotated[str, typer.Option(help="Its registration.")] = "",
    owner: Annotated[str, typer.Option(help="Who pays for it.")] = "",
    opened: Annotated[str, typer.Option(help="Day it began, as 2026-05-31.")] = "",
    note: Note = "",
    shop: Folder = None,
    by: By = "",
    action: ActionId = "",
) -> None:
    """Open a job: one restoration."""
    from mapper.job.records import Job

    day = day_of(opened, "opening date")
    with Desk(shop, by=by) as desk:
        with desk.act(f"new job {name}", action) as step:
            made = step.add(
                Job(step.new_id(), name, airframe, serial, registration, owner, day, note)
            )
        said(step, f"Job {name!r}: {made.id}")


@new.command("lot")
def new_lot(
    product: Annotated[str, typer.Argument(help="What it says on the can.")],
    number: Annotated[str, typer.Argument(help="The lot or batch number.")],
    received: Annotated[str, typer.Option(help="Day it came, as 2026-05-31.")] = "",
    best_before: Annotated[str, typer.Option(help="Last day it may be used.")] = "",
    quantity: Annotated[float | None, typer.Option(help="How much came.")] = None,
    unit: Annotated[str, typer.Option(help="Unit of the quantity: L, kg or other.")] = "",
    note: Note = "",
    shop: Folder = None,
    by: By = "",
    action: ActionId = "",
) -> None:
    """Add a lot: one batch of a material."""
    from mapper.job.records import Lot

    came, last = day_of(received, "day received"), day_of(best_before, "best-before date")
    with Desk(shop, by=by) as desk:
        with desk.act(f"new lot {product} {number}", action) as step:
            made = step.add(Lot(step.new_id(), product, number, came, last, quantity, unit, note))
        said(step, f"Lot {product!r} {number!r}: {made.id}")


@add.command("assembly")
def add_assembly(
    name: Name,
    order: Annotated[
        int | None, typer.Option(help="Place in lists, from 0.", show_default="last")
    ] = None,
    shop: Folder = None,
    job: InJob = "",
    by: By = "",
    action: ActionId = "",
) -> None:
    """Add a major piece of the airframe: left wing, fuselage."""
    from mapper.job.records import Assembly

    with Desk(shop, job, by) as desk:
        last = max((a.order + 1 for a in desk.book.assemblies), default=0)
        place = last if order is None else order
        with desk.act(f"new assembly {name}", action) as step:
            made = step.add(Assembly(step.new_id(), desk.job.id, name, place))
        said(step, f"Assembly {name!r}: {made.id}")


@add.command("part")
def add_part(
    file: Annotated[
        Path | None, typer.Argument(help="Its part file; none for a part without a shape.")
    ] = None,
    assembly: Annotated[str, typer.Option(help="The assembly it belongs to.")] = "",
    name: Annotated[str, typer.Option(help="Its name.", show_default="as the file says")] = "",
    code: Annotated[str, typer.Option(help="Tag code written on its bag, as LW-03.")] = "",
    since: Annotated[
        str, typer.Option(help="Day it was first there.", show_default="as far back as known")
    ] = "",
    made: Annotated[str, typer.Option(help="original, replacement or other words.")] = "original",
    note: Note = "",
    shop: Folder = None,
    job: InJob = "",
    by: By = "",
    action: ActionId = "",
) -> None:
    """Add a part from a part file, with a position and an item for it and for every panel."""
    from mapper.cli.desk import one_of
    from mapper.job.records import Part
    from mapper.store.parts import add_part as store_part
    from mapper.units import count_of

    text, geometry = "", None
    if file is not None:
        spec, geometry, text = part_file(file)
        name = name or spec.part
    if not name:
        raise MapperError("The part has no name.", "A part file gives one.", "Say it with --name.")
    day = day_of(since, "first day")
    with Desk(shop, job, by) as desk:
        belongs = one_of("assembly", desk.book.assemblies, assembly, "--assembly")
        with desk.act(f"new part {name}", action) as step:
            part = Part(
                step.new_id(), desk.job.id, belongs.id, name, code, part_file=text, note=note
            )
            got = store_part(step, desk.job, belongs, part, geometry, day, made=made)
        panels = count_of(len(got.positions) - 1, "panel")
        said(step, f"Part {name!r} with {panels}: {got.part.id}")
        ours = "in" if desk.units.system == "inch" else "mm"
        if geometry is not None and spec.units != ours:
            # Else an inch typed from habit would be taken as a millimetre, and nothing would show.
            other = "metric" if ours == "in" else "inch"
            print(
                f"Mind the units: lengths in {file} are in {spec.units}, in this shop in {ours}. "
                f"A number typed without a unit is taken as {ours}. "
                f"To change the shop: mapper change shop --set units={other}"
            )


def part_file(file: Path):
    """(spec, geometry, text) of a part file; every mistake in it is in the MapperError."""
    from mapper.cli.shape import read_and_build

    spec, geometry = read_and_build(file)
    return spec, geometry, file.read_text("utf-8")


@add.command("finish-system")
def add_finish_system(
    name: Name,
    coat: Annotated[
        list[str] | None,
        typer.Option(
            help='A coat, outermost first: "kind=enamel; colour=white; thickness=40 +/- 5 um";'
            " repeat for each.",
            metavar="COAT",
        ),
    ] = None,
    note: Note = "",
    shop: Folder = None,
    job: InJob = "",
    by: By = "",
    action: ActionId = "",
) -> None:
    """Describe a stack of coats once, to be named by coat zones."""
    from mapper.cli.words import coat_lines
    from mapper.job.records import FinishSystem
    from mapper.units import count_of

    with Desk(shop, job, by) as desk:
        coats = read_coats(coat or [], desk)
        taken = {s.name.casefold(): s for s in desk.book.finish_systems}.get(name.casefold())
        # An action sent again is answered by the store.
        if taken is not None and not action:
            raise MapperError(
                f"There is a finish system {taken.name!r} already ({taken.id[:8]}).",
                "Coat zones call it by its name.",
                "Give this one another name, or correct that one: mapper change, --set coats=...",
            )
        with desk.act(f"new finish system {name}", action) as step:
            made = step.add(FinishSystem(step.new_id(), desk.job.id, name, coats, note))
        said(step, f"Finish system {name!r} of {count_of(len(coats), 'coat')}: {made.id}")
        for coat_name, words in coat_lines(desk, coats):
            print(f"  {coat_name}: {words}")


def read_coats(texts: list[str], desk: Desk) -> tuple:
    """Coats as typed; MapperError names the field that cannot be read."""
    from mapper.job.fields import Field
    from mapper.job.kinds.shared import COAT_FIELDS
    from mapper.job.values import parse

    coats = Field("coats", "coats", "records", of=COAT_FIELDS)
    return tuple(c for text in texts for c in parse(coats, text, desk.units))


@add.command("choice")
def add_choice(
    kind: Annotated[str, typer.Argument(help="Kind of entry.")],
    field: Annotated[str, typer.Argument(help="Field with a list of choices.")],
    words: Annotated[str, typer.Argument(help="The choice to add to the shop's list.")],
    shop: Folder = None,
    by: By = "",
    action: ActionId = "",
) -> None:
    """Add a choice of the shop's own to a field's list."""
    from dataclasses import replace

    from mapper.job.entry import kind_of
    from mapper.job.values import find_field, own_choices

    found = kind_of(kind)
    f = find_field(found.fields, field, f"A {kind}")
    if f.type != "choice":
        raise MapperError(f"The {f.label} of a {kind} has no list of choices.")
    if not words.strip() or words.strip().casefold() in (c.casefold() for c in f.choices):
        raise MapperError(f"{words!r} is there already, or empty.", f"There: {list(f.choices)}.")
    with Desk(shop, by=by) as desk:
        own = (*own_choices(desk.shop, kind, f), words.strip())
        table = dict(desk.shop.settings.get("choices", {}))
        table[kind] = {**table.get(kind, {}), f.name: tuple(dict.fromkeys(own))}
        settings = {**desk.shop.settings, "choices": table}
        with desk.act(f"new choice for {kind}, {f.label}: {words.strip()}", action) as step:
            step.change(replace(desk.shop, settings=settings))
        said(step, f"Choice {words.strip()!r} for {f.label} of a {kind}.")
