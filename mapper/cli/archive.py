"""`mapper archive write`, `check`, `read`, `schema`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from mapper.cli.desk import ActionId, By, Desk, Folder
from mapper.cli.main import app
from mapper.cli.record_keep import progress

archive = typer.Typer(
    no_args_is_help=True,
    help="A whole job as JSON, WKT, CSV and pictures, readable without this program.",
)
app.add_typer(archive, name="archive")

Source = Annotated[
    Path, typer.Argument(help="The archive: a folder or a zip file.", metavar="ARCHIVE")
]


@archive.command("write")
def write(
    target: Annotated[
        Path,
        typer.Argument(
            help="New file NAME.zip, or any other name: a new folder.", metavar="TARGET"
        ),
    ],
    shop: Folder = None,
    job: Annotated[str, typer.Option("--job", help="Which job; not needed for an only one.")] = "",
) -> None:
    """Write everything of one job: records, shapes, regions, history, photos, tables.

    The shop's settings (rates, limits) go with it, people and lots only where the job names them.
    """
    from mapper.store.archive.write import write_archive

    with Desk(shop, job) as desk, progress() as tell:
        made = write_archive(desk.store, desk.job.id, target, tell)
    for line in made.lines():
        print(line)


@archive.command("check")
def check(source: Source) -> None:
    """Read an archive whole, comparing every digest and every hash, and store nothing."""
    from mapper.store.archive.box import open_box
    from mapper.store.archive.read import read_archive

    with open_box(source) as box:
        found = read_archive(box)
    for line in found.lines():
        print(line)
    print("Every file is as it was written.")


@archive.command("read")
def read(source: Source, shop: Folder = None, by: By = "", action: ActionId = "") -> None:
    """Take the job of an archive into this shop, as one action that undo takes back."""
    from mapper.store.archive.box import open_box
    from mapper.store.archive.read import take_in

    with Desk(shop, by=by) as desk, open_box(source) as box:
        answer = take_in(desk.store, box, desk.person.id, action or None)
    done = " (done before, nothing changed)" if answer.repeated else ""
    print(f"{answer.rows[0].words}: {len(answer.rows)} changes{done}.")


@archive.command("schema")
def schema() -> None:
    """Print the JSON Schema of an archive's job.json."""
    import json

    from mapper.store.archive.schema import schema as make

    print(json.dumps(make(), ensure_ascii=False, indent=1))
