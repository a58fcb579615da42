"""`mapper report JOB`: the report of a job as a PDF and one HTML page."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from mapper.cli.main import app

STAGES = {
    "measuring": "Measuring parts",
    "photos": "Preparing photos",
    "pages": "Drawing maps",
    "pictures": "Rendering pictures",
    "typesetting": "Typesetting",
}


@app.command()
def report(
    job: Annotated[str, typer.Argument(help="The job: its name, or the start of its id.")],
    shop: Annotated[
        Path | None,
        typer.Option(help="Folder of the shop.", envvar="MAPPER_SHOP", show_default="this folder"),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(help="Folder for the two files.", show_default="reports in the shop's folder"),
    ] = None,
    no_pictures: Annotated[
        bool, typer.Option("--no-pictures", help="Leave the 3D pictures out.")
    ] = False,
    fresh: Annotated[
        bool, typer.Option("--fresh", help="Draw everything again; use nothing kept from before.")
    ] = False,
) -> None:
    """Write a job's report: a PDF to print and keep, and one HTML file for any screen.

    Both show the same: parts and areas, a page for each panel's face with something recorded, with
    its map, what was found and estimated, cautions, what is not known, and at the end every entry
    in full. Ctrl-C stops it and leaves no half file.
    """
    from dataclasses import replace

    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    from mapper.report.build import file_names
    from mapper.report.build import report as write
    from mapper.store.shop import open_shop
    from mapper.store.trail import trail_of

    folder = shop or Path()
    with open_shop(folder) as store:
        jobs = store.jobs()
        found = find_job(jobs, job)
        book = replace(store.book(found), trail=trail_of(store, found))
    screen = Console(stderr=True)
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
    )
    with Progress(*columns, console=screen, transient=True) as bar:
        tasks = {}

        def step(stage: str, done: int, total: int) -> None:
            if stage not in tasks:
                tasks[stage] = bar.add_task(STAGES.get(stage, stage))
            bar.update(tasks[stage], completed=done, total=total)

        files = write(
            book,
            out or folder / "reports",
            pictures=not no_pictures,
            progress=step,
            cache=None if fresh else folder / "cache" / "report",
            name=file_names(jobs)[book.job.id],
        )
    print(files.pdf)
    print(files.html)
    for note in files.notes:
        screen.print(note, markup=False, highlight=False)


def find_job(jobs, wanted: str) -> str:
    """The id of the job of that name (any case) or whose id starts so.

    MapperError when there is none, or more than one.
    """
    from mapper.errors import MapperError

    named = [j for j in jobs if j.name.casefold() == wanted.strip().casefold()]
    found = named or [j for j in jobs if wanted.strip() and j.id.startswith(wanted.strip())]
    if len(found) == 1:
        return found[0].id
    there = "; ".join(f"{j.name} ({j.id[:8]})" for j in jobs) or "none yet"
    if found:
        raise MapperError(
            f"{len(found)} jobs answer to {wanted!r}.", f"Jobs: {there}.", "Give more of the id."
        )
    raise MapperError(f"There is no job {wanted!r}.", f"Jobs: {there}.", "Name one of these.")
