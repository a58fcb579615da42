"""`mapper report JOB` as typed: paths on standard output, what was left out on the other."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from mapper.cli import commands  # noqa: F401  (registers every command)
from mapper.cli.main import app
from mapper.cli.report import find_job
from mapper.errors import MapperError
from mapper.job.records import Job, Person, Shop
from mapper.store.shop import create


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A shop with two jobs and nothing on them."""
    person = Person("p1", "Ada Rivett")
    folder = tmp_path / "shop"
    store = create(folder, Shop("s", "Lower Field"), person)
    with store, store.act(person, "jobs") as action:
        action.add(Job("aa11", "Plover"))
        action.add(Job("ab22", "Fin \U0001f600"))
    return folder


def test_it_prints_where_the_two_files_are(shop: Path, tmp_path: Path) -> None:
    ran = CliRunner().invoke(
        app, ["report", "plover", "--shop", str(shop), "--out", str(tmp_path / "out")]
    )
    assert ran.exit_code == 0, ran.output
    paths = [Path(line) for line in ran.stdout.split()]
    assert [p.name for p in paths] == ["plover-report.pdf", "plover-report.html"]
    assert all(p.is_file() for p in paths)


def test_what_was_left_out_is_told_apart(shop: Path) -> None:
    ran = CliRunner().invoke(app, ["report", "ab", "--no-pictures"], env={"MAPPER_SHOP": str(shop)})
    assert ran.exit_code == 0, ran.output
    assert len(ran.stdout.split()) == 2
    assert "without 3D pictures" in ran.stderr
    assert "U+1F600" in ran.stderr
    assert (shop / "reports").is_dir()


def test_help_says_what_it_writes() -> None:
    ran = CliRunner().invoke(app, ["report", "--help"])
    assert "--no-pictures" in ran.output
    assert "PDF" in ran.output


JOBS = (Job("aa11", "Plover"), Job("ab22", "Fin"), Job("ab33", "Tail"))


@pytest.mark.parametrize(("wanted", "found"), [("fin", "ab22"), ("aa", "aa11"), ("ab33", "ab33")])
def test_a_job_is_found_by_name_or_start_of_its_id(wanted: str, found: str) -> None:
    assert find_job(JOBS, wanted) == found


@pytest.mark.parametrize(
    ("jobs", "wanted", "word"),
    [(JOBS, "ab", "Give more"), (JOBS, "x", "Plover"), ((), "x", "none")],
)
def test_no_job_or_several_are_told(jobs: tuple[Job, ...], wanted: str, word: str) -> None:
    with pytest.raises(MapperError, match=word):
        find_job(jobs, wanted)
