"""The paper copy: the document as JSON, laid out by the typesetter into a tagged archive PDF."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
from datetime import datetime
from pathlib import Path

from mapper.errors import MapperError
from mapper.report.cache import Cache
from mapper.report.fonts import copy_fonts
from mapper.report.layout import PLAN, TEMPLATE, Layout
from mapper.report.model import Document

MADE = "report.pdf"


def write_pdf(document: Document, target: Path, now: datetime, cache: Cache | None = None) -> None:
    """Typesets `document` into `target`, which appears whole or not at all.

    now: timezone-aware; printed by nobody, stored in the file as its time stamp. cache: where it is
    kept how sections were put on pages, which takes longest to find out. MapperError when the
    typesetter refuses something, with its words.
    """
    with Typesetting(document, now, cache) as typesetting:
        typesetting.finish(target)


class Typesetting:
    """A PDF in the making, by a process of its own: between entering it and `finish` the caller
    does other work. Leaving it, by an error or Ctrl-C too, ends the process and tidies up."""

    def __init__(self, document: Document, now: datetime, cache: Cache | None = None) -> None:
        self._document, self._now, self._cache = document, now, cache

    def __enter__(self) -> Typesetting:
        self._folder = tempfile.TemporaryDirectory(prefix="report-")
        folder = Path(self._folder.name)
        try:
            copy_fonts(folder / "fonts")
            shutil.copyfile(TEMPLATE, folder / "page.typ")
            data = Layout(folder, self._cache).document(self._document)
            (folder / "data.json").write_text(json.dumps(data), "utf-8")
            seconds = str(int(self._now.timestamp()))
            command = (
                sys.executable,
                "-m",
                "mapper.report.typeset",
                folder,
                folder / MADE,
                seconds,
            )
            self._child = subprocess.Popen(
                command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
            )
        except BaseException:
            self._folder.cleanup()
            raise
        return self

    def finish(self, target: Path) -> None:
        """Waits for the PDF and copies it to `target`. MapperError as `write_pdf`."""
        _, errors = self._child.communicate()
        if self._child.returncode:
            raise MapperError(
                "The report could not be typeset.",
                errors.decode("utf-8", "replace").strip()
                or f"(exit code {self._child.returncode})",
            )
        folder = Path(self._folder.name)
        shutil.copyfile(folder / MADE, target)
        if self._cache is not None:
            plans = json.loads((folder / "plans.json").read_text("utf-8"))
            for key, plan in plans:
                text = json.dumps(plan)
                self._cache.file(key, PLAN, lambda out, text=text: out.write_text(text, "utf-8"))

    def __exit__(self, *_: object) -> None:
        if self._child.poll() is None:
            self._child.kill()
        self._child.wait()
        if self._child.stderr is not None:
            self._child.stderr.close()
        self._folder.cleanup()
