"""What the commands of the record share: the open shop, who acts, and finding things by name.

An id is given as its first characters, a part also by its tag code or name, everything else with a
name by that.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any

import typer

from mapper.errors import MapperError
from mapper.job.naming import answering, label, pick

Folder = Annotated[
    Path | None,
    typer.Option(
        "--shop", help="Folder of the shop.", envvar="MAPPER_SHOP", show_default="this folder"
    ),
]
InJob = Annotated[
    str,
    typer.Option("--job", help="Name or id of the job.", envvar="MAPPER_JOB",
                 show_default="the only one"),
]  # fmt: skip
By = Annotated[
    str,
    typer.Option("--by", help="Who acts: name or id.", envvar="MAPPER_PERSON",
                 show_default="the only one"),
]  # fmt: skip
ActionId = Annotated[
    str,
    typer.Option(
        "--action", help="Your own id of this action; sent again with it, it is done once only."
    ),
]
Note = Annotated[str, typer.Option("--note", help="Anything else, in words.")]
Csv = Annotated[bool, typer.Option("--csv", help="As CSV, full precision, in the shop's units.")]


class Desk:
    """An open shop and the job somebody works on. Use as a context: it lets go of the files."""

    def __init__(self, folder: Path | None, job: str = "", by: str = "") -> None:
        from mapper.store.shop import open_shop
        from mapper.units import Units

        self.folder = folder or Path()
        self.store = open_shop(self.folder)
        self.shop = self.store.shop()
        self.units = Units(self.shop.units)
        self._job, self._by, self._book = job, by, None
        self._names: dict[str, str] | None = None

    def __enter__(self) -> Desk:
        return self

    def __exit__(self, *error: object) -> None:
        self.store.close()

    @property
    def job(self) -> Any:
        """The job that was named, or the only one."""
        return one_of("job", self.store.jobs(), self._job, "--job")

    @property
    def person(self) -> Any:
        """The person who acts: named, or the only one of the shop."""
        return one_of("person", self.store.people(), self._by, "--by")

    @property
    def book(self) -> Any:
        """The job's record, read once."""
        if self._book is None:
            self._book = self.store.book(self.job.id)
        return self._book

    def act(self, words: str, action_id: str = "", when: datetime | None = None) -> Any:
        """An action of the person who acts."""
        return self.store.act(self.person.id, words, action_id or None, device_time=when)

    def rows(self, what: str) -> Sequence[Any]:
        """All records of one sort that the command line names."""
        if what == "person":
            return self.store.people()
        if what == "job":
            return self.store.jobs()
        if what == "lot":
            return self.store.lots()
        return getattr(self.book, BOOK_ROWS[what])

    def find(self, what: str, wanted: str) -> Any:
        """The record of one sort by id, start of id, name, tag code or lot number."""
        return pick(what, self.rows(what), wanted)

    def find_id(self, what: str, wanted: str) -> str:
        """As `find`, for the references among an entry's values."""
        return self.find(what, wanted).id

    def find_any(self, wanted: str) -> tuple[str, Any]:
        """(sort, record) of whatever answers to an id or name, in the job or the shop."""
        sorts = ["person", "job", "lot"]
        # Of several jobs none is looked into unless one is named.
        if self._job or len(self.store.jobs()) == 1:
            sorts += list(BOOK_ROWS)
        found = [(what, r) for what in sorts for r in answering(self.rows(what), wanted)]
        # A part's places and items have its name too: they are meant where nothing else is.
        things = [(what, r) for what, r in found if what not in ("position", "item")]
        found = [(what, r) for what, r in found if r.id == wanted.strip()] or things or found
        if len(found) == 1:
            return found[0]
        if not found:
            raise MapperError(
                f"Nothing answers to {wanted!r}.",
                "Give a name, a tag code, or the start of an id.",
                "`mapper list` shows them." + (
                    "" if len(self.store.jobs()) < 2 or self._job else " Name the job with --job."
                ),
            )  # fmt: skip
        shown = "; ".join(f"{title(what, r)} ({r.id[:8]})" for what, r in found[:6])
        raise MapperError(f"{len(found)} things answer to {wanted!r}: {shown}.", "Give more of it.")

    def names(self) -> dict[str, str]:
        """Words for every id that a value may refer to, read once."""
        if self._names is not None:
            return self._names
        rows = [*self.store.people(), *self.store.lots()]
        if self._job or len(self.store.jobs()) == 1:
            rows += [*self.book.parts, *self.book.finish_systems]
        self._names = {r.id: label(r) for r in rows}
        return self._names


BOOK_ROWS = {
    "assembly": "assemblies",
    "part": "parts",
    "position": "positions",
    "item": "items",
    "entry": "entries",
    "finish system": "finish_systems",
    "photo": "photos",
}


def title(what: str, record: Any) -> str:
    """A record with its sort before it; an entry is called by its kind and tag code."""
    if what == "entry":
        code = str(record.values.get("tag_code", ""))
        return f"{record.kind} {code}".strip()
    return f"{what} {label(record)}"


_MANY = {"person": "people", "assembly": "assemblies"}
_VARIABLES = {"--by": "MAPPER_PERSON", "--job": "MAPPER_JOB"}


def one_of(what: str, rows: Iterable[Any], wanted: str, option: str) -> Any:
    """The record named, or the only one there is."""
    rows = list(rows)
    if wanted:
        return pick(what, rows, wanted)
    if len(rows) == 1:
        return rows[0]
    there = "; ".join(label(r) for r in rows[:8])
    if not rows:
        way = "add" if what == "assembly" else "new"
        raise MapperError(f"There is no {what} yet.", "", f"Make one: mapper {way} {what} ...")
    name = _VARIABLES.get(option, "")
    raise MapperError(
        f"There are {len(rows)} {_MANY.get(what, f'{what}s')}: {there}.",
        "One is needed.",
        f"Name one with {option}{f', or once for all: export {name}=NAME' if name else ''}.",
    )


def day_of(text: str, what: str) -> Any:
    """A date typed for an option, None for ""."""
    from mapper.job.fields import Field
    from mapper.job.values import parse

    return parse(Field("day", what, "date"), text) if text else None


def time_of(text: str, what: str) -> Any:
    """A time typed for an option, None for ""."""
    from mapper.job.fields import Field
    from mapper.job.values import parse

    return parse(Field("when", what, "time"), text) if text else None


def said(action: Any, line: str) -> None:
    """Print what was done; a repetition of an earlier action says so."""
    answer = action.answer
    for note in answer.notes:
        print(f"mapper: {note}", file=sys.stderr)
    print(f"{line} (done before, nothing changed)" if answer.repeated else line)
