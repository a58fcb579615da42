"""Typesets one report; run as a process of its own so that it can be stopped at any moment.

`python -m mapper.report.typeset FOLDER TARGET SECONDS`: FOLDER holds page.typ, data.json, the
pictures and fonts/; SECONDS is the time stamp. Beside data.json it leaves plans.json: how sections
were put on pages, where that was worked out. A mistake goes to stderr with exit code 1.
"""

from __future__ import annotations

import signal
import sys
from pathlib import Path

import typst

# A-2a: an archive file with a tag tree; UA-1: usable with a screen reader. (A-4 is refused together
# with UA-1, and A-1a does not allow transparency.)
STANDARDS = ["a-2a", "ua-1"]


def typeset(folder: Path, target: Path, seconds: int) -> None:
    """Writes `target` from what lies in `folder`; typst.TypstError when something is refused."""
    compiler = typst.Compiler(
        str(folder / "page.typ"),
        root=str(folder),
        font_paths=[str(folder / "fonts")],
        ignore_system_fonts=True,
    )
    compiler.compile(output=str(target), format="pdf", pdf_standards=STANDARDS, timestamp=seconds)
    # What has just been set is still at hand, so asking for it takes no time.
    (folder / "plans.json").write_text(compiler.query("<plan>", field="value"), "utf-8")


if __name__ == "__main__":
    # Ctrl-C reaches the whole group; the caller ends this process and tidies up.
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    try:
        typeset(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]))
    except typst.TypstError as error:
        sys.stderr.write(f"{error}\n")
        sys.exit(1)
