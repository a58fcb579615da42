"""`mapper undo`, `redo`, `history`, `setting`, `verify`, `backup`, `restore`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from mapper.cli.desk import ActionId, By, Csv, Desk, Folder, said
from mapper.cli.main import app
from mapper.errors import MapperError


@app.command("undo")
def undo(
    job: Annotated[
        str, typer.Option("--job", help="Only in this job.", show_default="in all")
    ] = "",
    shop: Folder = None,
    by: By = "",
    action: ActionId = "",
) -> None:
    """Take back your own latest action; refused where somebody else has changed it since."""
    _turn("undo", shop, job, by, action)


@app.command("redo")
def redo(
    job: Annotated[
        str, typer.Option("--job", help="Only in this job.", show_default="in all")
    ] = "",
    shop: Folder = None,
    by: By = "",
    action: ActionId = "",
) -> None:
    """Bring again what you undid last, until your next action."""
    _turn("redo", shop, job, by, action)


def _turn(way: str, shop: Path | None, job: str, by: str, action: str) -> None:
    with Desk(shop, job, by) as desk:
        job_id = desk.job.id if job else None
        answer = getattr(desk.store, way)(desk.person.id, job_id, action_id=action or None)
    words = answer.rows[0].words if answer.rows else way
    print(f"{words} (done before, nothing changed)" if answer.repeated else f"{words}.")


@app.command("history")
def history(
    which: Annotated[str, typer.Argument(help="Of one thing only: id, name or tag code.")] = "",
    limit: Annotated[int, typer.Option(help="At most so many changes; 0 for all.")] = 40,
    shop: Folder = None,
    job: Annotated[str, typer.Option("--job", help="Only of this job.", show_default="all")] = "",
    csv: Csv = False,
) -> None:
    """Every change, newest first: who, when, what, and the first digits of its hash."""
    from mapper.cli.record_list import frame
    from mapper.cli.table import print_table
    from mapper.store.history import clock_words

    if not 0 <= limit < 2**63:
        raise MapperError(f"--limit {limit} was given.", "0 (for all) or more, up to 2^63 - 1.")
    with Desk(shop, job) as desk:
        record_id = desk.find_any(which)[1].id if which else None
        people = {p.id: p.name for p in desk.store.people()}
        rows = [
            {
                "no": row.seq,
                "time": row.device_time.isoformat(sep=" ", timespec="minutes"),
                "clock": clock_words(row.clock_offset_ms),
                "by": people.get(row.by, row.by),
                "what": row.words,
                "change": f"{row.op} {row.kind}",
                "id": row.record_id if csv else row.record_id[:8],
                "hash": row.hash if csv else row.hash[:8],
            }
            for row in desk.store.history(
                desk.job.id if job else None, record_id=record_id, limit=limit or None
            )
        ]
    columns = ["no", "time", "by", "what", "change", "id", "hash"]
    if csv or any(row["clock"] for row in rows):
        columns.insert(2, "clock")
    print_table(frame(rows, columns), empty="No change yet.", csv=csv)


@app.command("setting")
def setting(
    name: Annotated[str, typer.Argument(help="Name of the setting; none lists them.")] = "",
    value: Annotated[
        str | None, typer.Argument(help="Its value: a number, words, or JSON; none shows it.")
    ] = None,
    default: Annotated[
        bool, typer.Option("--default", help="Take the shop's own value off.")
    ] = False,
    shop: Folder = None,
    by: By = "",
    action: ActionId = "",
) -> None:
    """Show or change what the shop has changed from the defaults (rates, limits, factors).

    A rate is a number in the shop's units, or with its own: mapper setting estimate.apply "11 m2/h"
    """
    from dataclasses import replace

    from mapper.job.plain import thawed

    with Desk(shop, by=by) as desk:
        held = thawed(desk.shop.settings)
        if value is None and not default:
            for key in sorted(held) if not name else [name]:
                print(f"{key}: {_rate_words(desk, key) or held.get(key, 'as the default')}")
            if not held and not name:
                print("Everything is as the defaults.")
            return
        if default:
            held.pop(name, None)
        else:
            _check_name(name)
            held[name] = _in_shop_units(desk, name, _json_or_words(value or ""))
        changed = replace(desk.shop, settings=held)
        _check_settings(changed.settings)
        words = f"setting {name}: {'as the default' if default else value}"
        with desk.act(words, action) as step:
            step.change(changed)
        said(step, f"{words}.")


def _rate_words(desk: Desk, name: str) -> str:
    """A rate of the estimate as it holds in the shop, in its units; "" for another setting."""
    from mapper.estimate.defaults import DEFAULTS, rates_of
    from mapper.estimate.rate import PREFIX

    short = name.removeprefix(PREFIX)
    known = name.startswith(PREFIX) and short in DEFAULTS
    return rates_of(desk.shop.settings)[short].words(desk.units) if known else ""


def _in_shop_units(desk: Desk, name: str, given: Any) -> Any:
    """A rate as the program keeps it, of what was typed in the shop's units."""
    from mapper.estimate.defaults import DEFAULTS
    from mapper.estimate.rate import PREFIX
    from mapper.quantities import QUANTITIES
    from mapper.units import plain_number

    rate = DEFAULTS.get(name.removeprefix(PREFIX)) if name.startswith(PREFIX) else None
    if rate is None or rate.unit not in QUANTITIES:
        return given

    def inside(value: Any) -> Any:
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            return value
        found = desk.units.parse(str(value), rate.unit)
        if not rate.least <= found <= rate.most:
            ends = [plain_number(desk.units.number(v, rate.unit), 4)
                    for v in (rate.least, rate.most)]  # fmt: skip
            raise MapperError(
                f"{rate.label}: {value} was given.",
                f"Allowed: {' to '.join(ends)} {desk.units.label(rate.unit)}".strip() + ".",
                "Check the number and its unit.",
            )
        return found

    if isinstance(given, dict):
        return {k: v if k == "basis" else inside(v) for k, v in given.items()}
    return inside(given)


def _json_or_words(text: str) -> Any:
    import json

    try:
        return json.loads(text)
    except json.JSONDecodeError:
        return text


def _check_name(name: str) -> None:
    """MapperError for a setting that nothing reads: a slip of the pen would change nothing."""
    from difflib import get_close_matches

    from mapper.corrosion.settings import PREFIX as COUNTING
    from mapper.estimate.defaults import DEFAULTS
    from mapper.estimate.rate import PREFIX
    from mapper.store.photos import SETTINGS

    # After these two, the rooms that read the settings know every name.
    if name.startswith((PREFIX, COUNTING)) or name in (*SETTINGS, "choices"):
        return
    close = get_close_matches(name, [*SETTINGS, *(PREFIX + key for key in DEFAULTS)], n=1)
    raise MapperError(
        f"There is no setting {name!r}.",
        f"Settings: {', '.join(SETTINGS)}, and those that begin with {PREFIX} or {COUNTING}",
        f"Did you mean {close[0]!r}?" if close else "",
    )


def _check_settings(settings: Any) -> None:
    """MapperError where a setting is one that the program could not use."""
    from mapper.corrosion.settings import counting_of
    from mapper.estimate.defaults import rates_of
    from mapper.store.photos import rules_of

    try:
        rates_of(settings)
        counting_of(settings)
        rules_of(settings)
    except (TypeError, ValueError) as error:
        raise MapperError(f"The value cannot be used: {error}.", "A number is allowed.") from error


@app.command("verify")
def verify(
    head: Annotated[
        str, typer.Option(help="A hash printed earlier, in a report or a backup.")
    ] = "",
    shop: Folder = None,
) -> None:
    """Check the whole shop against its history; code 1 when anything is not as it was recorded."""
    from mapper.store.shop import open_shop

    # Not through a desk, which reads the shop's own record: that may be what is damaged.
    with open_shop(shop or Path(), damaged=True) as store, progress() as tell:
        verdict = store.verify(head or None, tell)
    for line in verdict.lines():
        print(line)
    if not verdict.sound:
        raise typer.Exit(1)


@app.command("backup")
def backup(
    target: Annotated[Path, typer.Argument(help="New folder for the backup.", metavar="TARGET")],
    shop: Folder = None,
) -> None:
    """Copy the shop to a new folder, photos included, while others may go on writing.

    Code 1 when a photo that the shop names is not in it: the backup is made, but look for the photo
    in an older one.
    """
    from mapper.store.backup import backup as store_backup

    with progress() as tell:
        made = store_backup(shop or Path(), target, tell)
    for line in made.lines():
        print(line)
    if made.missing:
        raise typer.Exit(1)


@app.command("restore")
def restore(
    source: Annotated[Path, typer.Argument(help="The backup.", metavar="BACKUP")],
    folder: Annotated[Path, typer.Argument(help="New or empty folder.", metavar="FOLDER")],
) -> None:
    """Make a shop again from a backup, after checking every byte of it."""
    from mapper.store.backup import restore as store_restore

    with progress() as tell:
        made = store_restore(source, folder, tell)
    print(f"{folder}: the shop is back.")
    for line in made.lines():
        print(line)


class progress:
    """A bar on the error stream where that is a terminal; otherwise nothing."""

    def __enter__(self) -> Any:
        from rich.console import Console
        from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

        screen = Console(stderr=True)
        columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
        self._bar = Progress(
            *columns, console=screen, transient=True, disable=not screen.is_terminal
        )
        self._bar.start()
        self._tasks: dict[str, Any] = {}
        return self._tell

    def _tell(self, what: str, done: int, of: int) -> None:
        if what not in self._tasks:
            self._tasks[what] = self._bar.add_task(what)
        self._bar.update(self._tasks[what], completed=done, total=of)

    def __exit__(self, *error: object) -> None:
        self._bar.stop()
