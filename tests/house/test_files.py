"""Habits of the house that a reader should be able to rely on."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TOP = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "Makefile",
    "pyproject.toml",
    "requirements.lock",
    "mapper",
    "meshes",
    "tests",
    "demo",
}
LONGEST = 420


def committed() -> list[Path]:
    """Files git knows or would take; every file when this is not a checkout."""
    listed = subprocess.run(
        ["git", "ls-files", "-co", "--exclude-standard", "-z"], cwd=ROOT, capture_output=True
    )
    if listed.returncode != 0:
        pytest.skip("not a git checkout: nothing says which files belong to the project")
    return [ROOT / n for n in listed.stdout.decode().split("\0") if n and (ROOT / n).is_file()]


def test_top_level_is_the_agreed_layout() -> None:
    tops = {p.relative_to(ROOT).parts[0] for p in committed()}
    assert {t for t in tops if not t.startswith(".")} <= TOP


def test_source_files_stay_small() -> None:
    long = {
        str(p.relative_to(ROOT)): n
        for p in committed()
        if p.suffix in (".py", ".ts") and (n := len(p.read_text("utf-8").splitlines())) > LONGEST
    }
    assert not long, f"longer than {LONGEST} lines, split by what they do: {long}"


def test_nothing_unfinished_or_skipped_is_committed() -> None:
    words = re.compile(
        "NotImplemented" + r"Error|\bTO" + r"DO\b|\bFIX" + r"ME\b|mark\.(skip|xfail)\b"
    )
    found = [
        f"{p.relative_to(ROOT)}:{i}"
        for p in committed()
        if p.suffix in (".py", ".typ", ".html", ".ts")
        for i, line in enumerate(p.read_text("utf-8").splitlines(), 1)
        if words.search(line)
    ]
    assert not found


def test_lock_pins_by_hash_and_names_no_address() -> None:
    lock = (ROOT / "requirements.lock").read_text("utf-8")
    assert not re.search(r"https?:|file:|index-url|find-links", lock)
    pins = re.findall(r"^([A-Za-z0-9_.\-]+)==\S+(.*(?:\n    .*)*)", lock, flags=re.M)
    assert len(pins) > 40
    assert all("--hash=sha256:" in rest for _, rest in pins)


def test_every_dependency_stands_in_the_lock() -> None:
    project = (ROOT / "pyproject.toml").read_text("utf-8")
    lock = (ROOT / "requirements.lock").read_text("utf-8").lower()
    names = re.findall(r'^    "([A-Za-z0-9_.\-]+)[><=~;]', project, flags=re.M)
    assert len(names) > 15
    assert not [n for n in names if f"\n{n.lower()}==" not in "\n" + lock]
