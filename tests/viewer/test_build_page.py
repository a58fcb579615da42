"""The page is bundled from its sources, again when they change, and never half."""

from __future__ import annotations

import gzip
import re
import shutil
from pathlib import Path

import pytest

from mapper.viewer import build_page


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    """The page's sources, small, with the installed packages lent."""
    page = tmp_path / "page"
    shutil.copytree(build_page.PAGE, page, ignore=shutil.ignore_patterns("node_modules", "src"))
    (page / "src" / "device").mkdir(parents=True)
    (page / "src" / "main.ts").write_text("const told: string = BUILD;\nconsole.log(told);\n")
    (page / "src" / "device" / "sw.ts").write_text("console.log(BUILD, ASSETS);\n")
    build_page.install()
    (page / "node_modules").symlink_to(build_page.PAGE / "node_modules")
    return page


def test_the_committed_sources_and_the_bundle_agree(built_page: Path) -> None:
    assert build_page.built_digest() == build_page.source_digest()
    assert not build_page.build(), "the digest agrees, and still it was made again"


def test_everything_named_by_the_page_is_there_and_packed(built_page: Path) -> None:
    html = (built_page / "index.html").read_text()
    named = re.findall(r'"/static/([^"]+)"', html)
    assert len(named) == 4  # icon, manifest, sheet, script
    for name in named:
        assert (built_page / name).is_file(), name
    for packed in built_page.glob("*.gz"):
        whole = packed.with_suffix("")
        assert gzip.decompress(packed.read_bytes()) == whole.read_bytes()
    assert len(list(built_page.glob("*.gz"))) >= 4


def test_the_worker_knows_every_file_of_the_page(built_page: Path) -> None:
    worker = (built_page / "sw.js").read_text()
    for path in built_page.iterdir():
        if path.suffix != ".gz" and path.name not in ("index.html", "sw.js", build_page.DIGEST):
            assert f"/static/{path.name}" in worker
    assert build_page.source_digest()[:16] in worker


def test_a_change_makes_it_again_under_another_name(copied: Path, tmp_path: Path) -> None:
    static = tmp_path / "static"
    assert build_page.build(page=copied, static=static)
    [before] = static.glob("page-*.js")
    assert not build_page.build(page=copied, static=static)
    (copied / "src" / "main.ts").write_text("console.log('another');\n")
    assert build_page.build(page=copied, static=static)
    [after] = static.glob("page-*.js")
    assert before.name != after.name
    assert build_page.built_digest(static) == build_page.source_digest(copied)


def test_a_mistake_stops_it_and_leaves_what_was_there(copied: Path, tmp_path: Path) -> None:
    static = tmp_path / "static"
    build_page.build(page=copied, static=static)
    before = {p.name: p.read_bytes() for p in static.iterdir()}
    (copied / "src" / "main.ts").write_text("import './nowhere';\n")
    with pytest.raises(build_page.PageNotBuilt, match="nowhere"):
        build_page.build(page=copied, static=static)
    assert {p.name: p.read_bytes() for p in static.iterdir()} == before
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith(".static-")] == []


def test_a_file_that_only_changes_its_name_changes_the_digest(copied: Path) -> None:
    before = build_page.source_digest(copied)
    (copied / "src" / "main.ts").rename(copied / "src" / "first.ts")
    assert build_page.source_digest(copied) != before


def test_the_lock_names_no_address() -> None:
    lock = (build_page.PAGE / "package-lock.json").read_text()
    assert "resolved" not in lock
    assert not re.search(r"https?://(?!opencollective|github)", lock)
