"""A whole report: numbers, drawings and words of one job into a PDF and one HTML page."""

from __future__ import annotations

import os
import re
import tempfile
import unicodedata
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from mapper.errors import MapperError
from mapper.job.book import Book
from mapper.job.records import Job
from mapper.report.cache import Cache
from mapper.report.chapters import Chapters
from mapper.report.closing import about
from mapper.report.letters import Letters
from mapper.report.model import Document, with_text
from mapper.report.page import write_page
from mapper.report.pdf import Typesetting
from mapper.report.phrases import moment

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class ReportFiles:
    """What was written. notes: a sentence for each thing that was left out; () when nothing was."""

    pdf: Path
    html: Path
    notes: tuple[str, ...] = ()


def report(
    book: Book,
    out: Path,
    *,
    pictures: bool = True,
    progress: Progress | None = None,
    now: datetime | None = None,
    cache: Path | None = None,
    name: str = "",
) -> ReportFiles:
    """Writes the report of a job into the folder `out`, which is made when missing.

    pictures: with 3D pictures, where this machine can render; without, the report says so.
    progress(stage, done, total) is called after each step. now: the time printed (timezone-aware;
    the clock's when None): the same book at the same time gives the same bytes. cache: a folder
    where drawings and numbers are kept for the next report; None keeps nothing. name: of the two
    files, without ending; from the job's name where "" (with several jobs: `file_names`).
    A job without parts, parts without a shape and parts without entries all give a report.
    Ctrl-C ends it with no half file: both files take their names last, at once.
    MapperError where the folder cannot be written or the time has no zone.
    """
    when = now if now is not None else datetime.now().astimezone()
    if when.tzinfo is None:
        raise MapperError(f"now is {when.isoformat()}.", "A time with its zone is needed.")
    step = progress or (lambda stage, done, total: None)
    out = Path(out)
    try:
        if out.exists() and not out.is_dir():
            raise MapperError(
                f"The report could not be written: {out} is a file.",
                "It goes into a folder.",
                "Name another one.",
            )
        out.mkdir(parents=True, exist_ok=True)
        with _cache(cache) as kept, tempfile.TemporaryDirectory(prefix="report-") as work:
            document, notes = _document(book, kept, pictures, step, when)
            called = name or file_name(book.job.name)
            made = [Path(work) / f"{called}.pdf", Path(work) / f"{called}.html"]
            step("typesetting", 0, 2)
            # The PDF is set by a process of its own, so the page is written meanwhile.
            with Typesetting(document, when, kept) as typesetting:
                write_page(document, made[1])
                step("typesetting", 1, 2)
                typesetting.finish(made[0])
            files = _put(made, out)
            step("typesetting", 2, 2)
            kept.tidy()
    except OSError as error:
        raise MapperError(
            f"The report could not be written: {error.strerror or error}.",
            f"It goes into the folder {out}.",
            "Check that there is room, and that you may write there.",
        ) from error
    return ReportFiles(files[0], files[1], notes)


def file_name(job: str) -> str:
    """A name for the files that every system takes: "Swallow 2" gives "swallow-2-report"."""
    plain = unicodedata.normalize("NFKD", job).encode("ascii", "ignore").decode().lower()
    words = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-")
    return f"{words}-report" if words else "report"


def file_names(jobs: Iterable[Job]) -> dict[str, str]:
    """Job id -> name for its files. Jobs whose names come to the same one ("A b", "a-B"; two in
    letters that file names do not hold) have the start of their id in it: none takes another's."""
    names = {job.id: file_name(job.name) for job in jobs}
    often = Counter(names.values())
    return {
        key: name if often[name] == 1 else f"{name}-{file_name(key[:8]).removesuffix('-report')}"
        for key, name in names.items()
    }


def _document(
    book: Book, cache: Cache, pictures: bool, step: Progress, when: datetime
) -> tuple[Document, tuple[str, ...]]:
    """The document with only printable characters, and what was left out of it."""
    chapters = Chapters(book, cache, pictures, step, when)
    document = chapters.document()
    letters = Letters()
    document = with_text(document, letters)
    versions = {p.name: p.geometry for p in book.parts if p.geometry}
    last = about(
        chapters.lookup,
        made=moment(when),
        replaced=letters.rows(),
        left_out=chapters.left_out,
        versions=versions,
    )
    before, end = document.sections[:-1], document.sections[-1:]  # the lines to sign come last
    document = replace(document, sections=(*before, with_text(last, Letters()), *end))
    notes = chapters.left_out
    if letters.count:
        shown = ", ".join(row[0] for row in letters.rows()[:8])
        notes = (*notes, f"Characters that cannot be printed are shown by number: {shown}.")
    return document, notes


@contextmanager
def _cache(folder: Path | None) -> Iterator[Cache]:
    """The cache in `folder`, or one that lasts as long as the report."""
    if folder is not None:
        try:
            kept = Cache(Path(folder))
            with tempfile.TemporaryFile(dir=folder):
                pass
        except OSError:
            pass  # a folder that cannot be written is no reason to go without a report
        else:
            yield kept
            return
    with tempfile.TemporaryDirectory(prefix="report-cache-") as name:
        yield Cache(Path(name))


def _put(made: list[Path], out: Path) -> list[Path]:
    """Copies finished files beside their places, then gives them their names."""
    waiting: list[Path] = []
    try:
        for path in made:
            handle, name = tempfile.mkstemp(prefix=".", suffix=path.suffix, dir=out)
            waiting.append(Path(name))
            with os.fdopen(handle, "wb") as target:
                target.write(path.read_bytes())
                target.flush()
                os.fsync(target.fileno())
            Path(name).chmod(0o644)
        files = [out / path.name for path in made]
        for path in files:
            # Looked at before the first takes its name, so that never one of the two is new.
            if path.is_dir():
                raise MapperError(
                    f"{path} is a folder.",
                    "The report's two files take these names.",
                    "Move it away, or name another folder with --out.",
                )
        for source, target_path in zip(waiting, files, strict=True):
            source.replace(target_path)
    finally:
        for path in waiting:
            path.unlink(missing_ok=True)
    return files
