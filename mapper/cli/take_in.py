"""`mapper take-in`: what a device at the wing could not send, from the file it saved."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from mapper.cli.desk import Csv, Desk, Folder
from mapper.cli.main import app
from mapper.errors import MapperError

MOST = 400_000_000  # bytes: as much as the page's server takes


@app.command("take-in")
def take_in(
    file: Annotated[
        Path,
        typer.Argument(help="The file: 'Save what waits to a file' on the page.", metavar="FILE"),
    ],
    shop: Folder = None,
    csv: Csv = False,
) -> None:
    """Take in what a device could not send: each item once, under the name of who recorded it.

    What is here already is left as it is, so the file may be read again, and the device may still
    send. What is refused is listed with the reason, keeps nothing else back, and makes the code 1.
    """
    from mapper.cli.record_list import frame
    from mapper.cli.table import print_table
    from mapper.units import count_of
    from mapper.viewer.server.guards import Guards
    from mapper.viewer.server.live import LiveBook
    from mapper.viewer.server.outbox import parsed, read_items

    found = parsed(_bytes(file))
    with Desk(shop) as desk:
        lives: dict[str, LiveBook] = {}

        def live_of(job: str) -> LiveBook:
            if job not in lives:
                if all(known.id != job for known in desk.store.jobs()):
                    raise MapperError(
                        f"What is in the file was recorded in a job ({job[:8]}) that is not here.",
                        f"Jobs here: {', '.join(j.name for j in desk.store.jobs()) or 'none'}.",
                        "Name the shop that the device was served from with --shop.",
                    )
                lives[job] = LiveBook(desk.store, job)
            return lives[job]

        done = read_items(desk.store, Guards(), live_of, found)
        people = {p.id: p.name for p in desk.store.people()}
    rows = [
        {
            "what": one.what,
            "by": people.get(one.by, one.by),
            "time": one.when[:16].replace("T", " "),
            "clock": one.clock,
            "became": "here already" if one.status == "repeated" else one.status,
            "id": one.id,
            "why": one.message,
        }
        for one in done
    ]
    columns = ["what", "by", "time", "became"]
    if any(row["clock"] for row in rows):
        columns.insert(3, "clock")
    if csv:
        columns = ["what", "by", "time", "clock", "became", "id", "why"]
    print_table(frame(rows, tuple(columns)), empty="Nothing waits in this file.", csv=csv)
    refused = [row for row in rows if row["became"] == "refused"]
    if not csv and rows:
        for row in rows:
            if row["why"]:
                print(f"\n{row['what']} ({row['became']}): {row['why']}")
        stored = sum(row["became"] == "stored" for row in rows)
        already = len(rows) - stored - len(refused)
        print(
            f"\n{count_of(len(rows), 'item')}: {stored} stored, {already} here already,"
            f" {len(refused)} refused."
        )
    if refused:
        raise typer.Exit(1)


def _bytes(file: Path) -> bytes:
    """The bytes of a file that may be an outbox; MapperError where there is none, or too much."""
    if not file.is_file():
        raise MapperError(
            f"There is no file {str(file)!r}.",
            "",
            "Give the file that the page saved (unsent-...json), brought over from the device.",
        )
    size = file.stat().st_size
    if size > MOST:
        raise MapperError(
            f"The file has {size / 1e6:,.0f} MB.",
            f"Up to {MOST / 1e6:,.0f} MB are read at once.",
            "Send from the device itself when it finds the server.",
        )
    try:
        return file.read_bytes()
    except OSError as error:
        raise MapperError(f"The file {str(file)!r} cannot be read: {error.strerror}.") from error
