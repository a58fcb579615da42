"""Whole reports: of nothing, of words only, of a wing; the same twice; stopped half-way."""

from __future__ import annotations

import hashlib
import re
from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from PIL import Image

from mapper.drawing.scene import NoPictures
from mapper.errors import MapperError
from mapper.estimate.cautions import cautions_for
from mapper.estimate.estimate import estimate
from mapper.job.entry import PhotoUse
from mapper.job.records import Job, Photo
from mapper.report import build, pdf, warn
from mapper.report.build import file_name, file_names, report
from mapper.report.model import Document
from mapper.report.pdf import Typesetting
from tests.report.books import WHEN, book, entry, photo, shaped, worded

# Words that would make a record into a release.
NEVER = re.compile(r"\b(pass|passed|serviceable|airworthy|approved for|certified)\b", re.I)


def words(html: Path) -> str:
    """What a reader of the page sees."""
    return unescape(re.sub(r"<style>.*?</style>|<[^>]*>", " ", html.read_text("utf-8"), flags=re.S))


def test_a_job_with_nothing_in_it(tmp_path: Path) -> None:
    files = report(book(), tmp_path, now=WHEN)
    text = words(files.html)
    assert "No part is recorded on this job yet" in text
    assert "No lot of any material is recorded" in text
    with pikepdf.open(files.pdf) as made:
        assert len(made.pages) >= 4
    assert files.notes == ()


def test_a_part_without_a_shape_keeps_its_entries(tmp_path: Path) -> None:
    text = words(report(worded("Seen by lamp."), tmp_path, now=WHEN).html)
    assert "This part has no shape yet" in text
    assert "depth as found: 0.12 ± 0.02 mm" in text
    assert "deferred to 3 May 2026" in text
    assert "Jon Lyme" in text
    assert "ab" * 32 in text
    assert not NEVER.search(text)


@pytest.fixture(scope="module")
def wing_report(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, list[str]]:
    """A wing's report without pictures, with the steps it told."""
    folder = tmp_path_factory.mktemp("wing")
    steps: list[str] = []
    files = report(
        shaped(),
        folder,
        pictures=False,
        now=WHEN,
        progress=lambda stage, done, total: steps.append(f"{stage} {done}/{total}"),
    )
    return files.pdf, files.html, steps


def test_faces_with_entries_have_a_page_and_the_others_a_row(
    wing_report: tuple[Path, Path, list[str]],
) -> None:
    text = words(wing_report[1])
    for panel in ("inboard sheet", "outboard sheet"):
        assert text.count(f"{panel}, outer face") >= 2  # in the contents and over its page
        assert f"{panel}, inner face" not in text
        row = text[text.index("Faces with nothing recorded") :]
        assert re.search(rf"{panel}\s+inner\s", row)
    assert "pages 3/3" in wing_report[2]  # the whole skin, and two panels
    assert wing_report[2][-1] == "typesetting 2/2"
    assert "Nobody has looked here, so nothing is known" in text
    assert "Treat" in text or "test first" in text
    assert not NEVER.search(text)


def test_every_entry_stands_in_full_exactly_once(
    wing_report: tuple[Path, Path, list[str]],
) -> None:
    whole = words(wing_report[1])
    full = whole[whole.rindex("Entries in full") :]
    for one in shaped().entries:
        assert len(re.findall(rf"id {one.id[:8]}\b", whole)) == 1
        assert re.search(rf"id {one.id[:8]}\b", full)


def test_no_caution_of_the_work_is_lost(wing_report: tuple[Path, Path, list[str]]) -> None:
    """Every caution that the estimate and the kinds of work on the job call for is in the report,
    and those of all work stand in it once."""
    text = words(wing_report[1])
    made = estimate(shaped())
    wanted = {*made.cautions, *(c for e in shaped().entries for c in cautions_for(kind=e.kind))}
    assert wanted
    for caution in wanted:
        assert caution.text in text
    for caution in warn.general():
        assert text.count(caution.text) == 1


def test_the_report_says_that_pictures_were_left_out(
    wing_report: tuple[Path, Path, list[str]],
) -> None:
    assert "asked for without 3D pictures" in words(wing_report[1])


def test_the_pdf_of_a_wing_keeps_the_standards(wing_report: tuple[Path, Path, list[str]]) -> None:
    with pikepdf.open(wing_report[0]) as made, made.open_metadata() as metadata:
        assert (metadata["pdfaid:part"], metadata["pdfaid:conformance"]) == ("2", "A")
        assert metadata["pdfuaid:part"] == "1"
        figures = [o for o in made.objects if isinstance(o, pikepdf.Dictionary)]
        figures = [o for o in figures if o.get("/S") == "/Figure"]
        # Two maps of the sheets and the whole one; so few findings have no map of where they lie.
        assert len(figures) == 3
        assert all(len(str(f.Alt)) > 40 for f in figures)


def test_numbers_of_page_and_paper_are_the_same(
    wing_report: tuple[Path, Path, list[str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both writers are handed one and the same document."""
    seen = []

    class Seen(Typesetting):
        def __init__(self, document: Document, *given: Any) -> None:
            seen.append(document)
            super().__init__(document, *given)

    monkeypatch.setattr(build, "Typesetting", Seen)
    monkeypatch.setattr(build, "write_page", lambda d, p: (seen.append(d), p.write_text("")))
    report(worded(), tmp_path, now=WHEN)
    assert len(seen) == 2
    assert seen[0] is seen[1]


def test_the_same_book_gives_the_same_bytes(tmp_path: Path) -> None:
    one = report(worded(), tmp_path / "a", now=WHEN)
    two = report(worded(), tmp_path / "b", now=WHEN, cache=tmp_path / "cache")
    assert one.pdf.read_bytes() == two.pdf.read_bytes()
    assert one.html.read_bytes() == two.html.read_bytes()


def test_awkward_text_everywhere_is_shown_and_listed(tmp_path: Path) -> None:
    note = "<script>#x</script> \U0001f600 \u202eabc \u05e9\u05dc\u05d5\u05dd \\ $ `"
    files = report(worded(note), tmp_path, now=WHEN)
    assert "[U+1F600]" in words(files.html)
    assert "grinning face" in words(files.html)
    assert any("U+1F600" in n for n in files.notes)
    assert "<script>" not in files.html.read_text("utf-8")


def recorded(number: int, file: Path) -> Photo:
    return replace(photo(number), digest=hashlib.sha256(file.read_bytes()).hexdigest())


def test_photos_stand_in_the_report_and_lost_ones_are_told(tmp_path: Path) -> None:
    good, broken = tmp_path / "good.png", tmp_path / "broken.jpg"
    Image.new("RGBA", (900, 500), (200, 10, 10, 90)).save(good)
    broken.write_bytes(b"no picture")
    uses = tuple(PhotoUse(f"ph{i}", "Tip, lower side", 0.5) for i in (1, 2, 3, 4))
    swapped = tmp_path / "swapped.png"
    Image.new("RGB", (900, 500), (10, 200, 10)).save(swapped)
    files = report(
        worded(
            entries=(entry(1, photos=uses),),
            photos=(recorded(1, good), recorded(2, broken), photo(3), photo(4)),
            photo_files={"ph1": str(good), "ph2": str(broken), "ph4": str(swapped)},
        ),
        tmp_path / "out",
        now=WHEN,
    )
    text = files.html.read_text("utf-8")
    assert text.count("data:image/jpeg") == 1
    assert "about 400 mm wide" in text
    assert len([n for n in files.notes if n.startswith("Photo ")]) == 3
    assert any(n.startswith("Photo ph4 is damaged") for n in files.notes)


def test_a_stopped_report_leaves_no_half_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = report(worded(), tmp_path, now=WHEN)
    before = first.pdf.read_bytes()

    def stop(stage: str, done: int, total: int) -> None:
        if stage == "typesetting" and done == 1:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        report(worded("Changed."), tmp_path, now=WHEN, progress=stop)
    assert sorted(p.name for p in tmp_path.iterdir()) == [first.html.name, first.pdf.name]
    assert first.pdf.read_bytes() == before


def test_ctrl_c_while_typesetting_ends_the_process(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    children = []

    class Child(pdf.subprocess.Popen):  # type: ignore[type-arg]
        def communicate(self, *args: object, **more: object) -> tuple[bytes, bytes]:
            children.append(self)
            raise KeyboardInterrupt

    monkeypatch.setattr(pdf.subprocess, "Popen", Child)
    with pytest.raises(KeyboardInterrupt):
        report(worded(), tmp_path, now=WHEN)
    assert children[0].returncode is not None
    assert list(tmp_path.iterdir()) == []


def test_without_egl_it_goes_out_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(*given: object, **more: object) -> None:
        raise NoPictures("3D pictures cannot be made: the process ended with code -11.")

    monkeypatch.setattr("mapper.drawing.scene.pictures", none)
    files = report(shaped(), tmp_path, now=WHEN)
    assert any("cannot render" in n for n in files.notes)
    assert "cannot render them" in words(files.html)
    assert files.pdf.stat().st_size > 10_000


def test_mistakes_are_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x", "utf-8")
    with pytest.raises(MapperError, match="could not be written"):
        report(book(), tmp_path / "file", now=WHEN)
    for number, ending in enumerate(("pdf", "html")):
        out = tmp_path / f"out {number}"
        (out / f"{file_name(book().job.name)}.{ending}").mkdir(parents=True)
        with pytest.raises(MapperError, match="is a folder"):
            report(book(), out, now=WHEN)
        assert [p.suffix for p in out.iterdir()] == [f".{ending}"]
    with pytest.raises(MapperError, match="zone"):
        report(book(), tmp_path, now=WHEN.replace(tzinfo=None))


@pytest.mark.parametrize(
    ("job", "name"),
    [
        ("Swallow 2", "swallow-2-report"),
        ("../../x", "x-report"),
        ("Шторх", "report"),
        ("", "report"),
    ],
)
def test_names_of_files(job: str, name: str) -> None:
    assert file_name(job) == name


def test_no_job_takes_the_files_of_another(tmp_path: Path) -> None:
    jobs = [Job(f"{i}bcdef01-2", n) for i, n in enumerate(("机翼", "机身", "a-b", "A B", "wing"))]
    names = file_names(jobs)
    assert len({n.casefold() for n in names.values()}) == 5
    assert names["4bcdef01-2"] == "wing-report"
    files = report(book(), tmp_path, now=WHEN, name=names["0bcdef01-2"])
    assert (files.pdf.name, files.html.name) == ("report-0bcdef01.pdf", "report-0bcdef01.html")
