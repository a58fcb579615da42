"""`python -m demo`: build the invented restoration and write its report."""

from __future__ import annotations

import argparse
import shutil
import sys
import time
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from demo.build import build_shop
from demo.cast import JOB
from demo.story.story import ROWS
from mapper.errors import MapperError
from mapper.report.build import report
from mapper.store.shop import open_shop
from mapper.store.trail import trail_of


def main() -> int:
    """Build `OUT/shop` anew, write `OUT/report`, print where they are; exit code 2 on a mistake."""
    parser = argparse.ArgumentParser(prog="demo", description=__doc__)
    parser.add_argument("--out", type=Path, default=Path("demo/out"), help="folder for it all")
    parser.add_argument("--no-pictures", action="store_true", help="leave the 3D pictures out")
    parser.add_argument("--no-report", action="store_true", help="build the shop only")
    asked = parser.parse_args()
    started = time.monotonic()
    shop = asked.out / "shop"
    try:
        if (shop / "shop.sqlite").is_file():
            shutil.rmtree(shop)  # an earlier run of the demo: nobody's own record
        build_shop(shop, _say)
        print(f"shop      {shop} ({len(ROWS)} entries, {time.monotonic() - started:.1f} s)")
        if asked.no_report:
            return 0
        with open_shop(shop) as store:
            book = replace(store.book(JOB.id), trail=trail_of(store, JOB.id))
        last = max(row.when for row in ROWS) + timedelta(days=3)
        files = report(
            book, asked.out / "report", pictures=not asked.no_pictures, progress=_say, now=last,
            cache=asked.out / "cache",
        )  # fmt: skip
    except MapperError as error:
        print(f"demo: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("demo: stopped.", file=sys.stderr)
        return 130
    for note in files.notes:
        print(f"note      {note}")
    print(f"report    {files.pdf}")
    print(f"          {files.html}")
    print(f"done in   {time.monotonic() - started:.1f} s")
    print(f"look at   mapper list entries --shop {shop}")
    return 0


def _say(stage: str, done: int, total: int) -> None:
    if sys.stderr.isatty():
        end = "\n" if done == total else ""
        print(f"\r{stage:<14}{done:>4} of {total}", end=end, file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main())
