"""The page: one file, everything escaped, nothing fetched, nothing that runs."""

from __future__ import annotations

import re
from html import unescape
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest

from mapper.errors import MapperError
from mapper.report.inline import inline_svg
from mapper.report.model import Column, Document, Table, figures
from mapper.report.page import STYLE, page
from mapper.report.tags import Html, element
from tests.report.samples import document, drawing

EVIL = '<script>alert(1)</script>" onload="x" \' & <b>'


class Reader(HTMLParser):
    """Elements as a browser would see them."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text += data


def test_what_it_is_comes_first_then_the_contents_with_a_link_to_each_section(
    tmp_path: Path,
) -> None:
    sample = document(tmp_path)
    text = page(sample)
    read = Reader(text)
    order = [t for t, _ in read.tags if t in ("h1", "nav", "main")]
    assert order == ["h1", "nav", "main"]
    links = re.findall(r'<a href="#(s\d+)"', text[text.index("<nav") : text.index("</nav>")])
    wanted = [f"s{i}" for i, s in enumerate(sample.sections, 1) if s.level <= 3]
    assert links == wanted


@pytest.mark.parametrize(("numbers", "stacked"), [(4, True), (7, False)])
def test_on_a_phone_tables_of_few_columns_become_lists(numbers: int, stacked: bool) -> None:
    columns = (Column("What"), *(Column(f"n{i}", number=True) for i in range(numbers)))
    table = Table("t", columns, (tuple("x" * len(columns)),))
    made = page(Document("t", "s", (table,), (), "f"))
    assert ('class="stacked"' in made) is stacked


def test_columns_are_as_wide_as_on_paper(tmp_path: Path) -> None:
    found = [a["style"] for t, a in Reader(page(document(tmp_path))).tags if t == "col"]
    assert found[:2] == ["width: 66.7%", "width: 33.3%"]  # shares of 2 and 1


def test_on_a_phone_tables_scroll_or_stack_and_pictures_scale() -> None:
    """The rules that hold it, in words of the style; looked at in a browser 360 px wide."""
    style = STYLE.read_text("utf-8")
    phone = style[style.index("@media (max-width: 40rem)") : style.index("@media (forced-colors")]
    assert ".stacked thead" in phone
    assert re.search(r"\.scroll \{ overflow-x: auto; \}", style)
    assert "figure img { max-width: 100%" in style
    # A map keeps its own paper: its inks are never those of a dark page.
    assert re.search(r"\.paper svg \{[^}]*background: #fff; color: #17212b", style)


def test_user_text_never_becomes_markup(tmp_path: Path) -> None:
    read = Reader(page(document(tmp_path, EVIL)))
    assert not {"script", "b"} & {tag for tag, _ in read.tags}
    assert not [a for _, attributes in read.tags for a in attributes if a.startswith("on")]
    plain = Reader(page(document(tmp_path, "A note.")))
    assert len(read.tags) == len(plain.tags)
    assert EVIL in read.text


def test_it_needs_no_other_file(tmp_path: Path) -> None:
    text = page(document(tmp_path))
    addresses = re.findall(r'(?:src|href|xlink:href)="([^"]*)"', text)
    assert addresses
    assert all(a.startswith(("#", "data:")) for a in addresses)
    assert "default-src 'none'" in unescape(text)
    assert "@import" not in text
    assert not re.search(r"url\((?!#)", text)


def test_links_and_labels_lead_somewhere_and_ids_are_unique(tmp_path: Path) -> None:
    read = Reader(page(document(tmp_path)))
    ids = [a["id"] for _, a in read.tags if "id" in a]
    assert len(set(ids)) == len(ids)
    wanted = {a["href"][1:] for _, a in read.tags if (a.get("href") or "").startswith("#")}
    wanted |= {a["aria-labelledby"] for _, a in read.tags if "aria-labelledby" in a}
    assert wanted <= set(ids)


def test_every_figure_is_named_and_every_scrolling_frame_takes_the_keyboard(tmp_path: Path) -> None:
    sample: Document = document(tmp_path)
    read = Reader(page(sample))
    named = [a["aria-label"] for t, a in read.tags if t == "svg"]
    named += [a["alt"] for t, a in read.tags if t == "img"]
    assert sorted(map(str, named)) == sorted(f.alt for f in figures(sample))
    frames = [a for _, a in read.tags if (a.get("class") or "").startswith("scroll")]
    assert frames
    assert all(a["tabindex"] == "0" and a["role"] == "region" for a in frames)


def test_headings_go_down_one_at_a_time(tmp_path: Path) -> None:
    levels = [int(t[1]) for t, _ in Reader(page(document(tmp_path))).tags if re.match(r"h\d$", t)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b <= a + 1 for a, b in pairwise(levels))


def test_an_empty_document_is_still_a_page() -> None:
    assert "<main" in page(Document("t", "s", (), (), "f"))


@pytest.mark.parametrize(
    "inside",
    [
        "<script>1</script>",
        '<rect onclick="x"/>',
        '<image href="http://example.org/x.png"/>',
        '<use href="javascript:x"/>',
        "<foreignObject/>",
    ],
)
def test_a_drawing_that_does_more_than_draw_is_refused(tmp_path: Path, inside: str) -> None:
    text = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1">{inside}</svg>'
    with pytest.raises(MapperError):
        inline_svg(drawing(tmp_path, text), "p-", "alt")


def test_ids_of_two_drawings_stay_apart(tmp_path: Path) -> None:
    text = inline_svg(drawing(tmp_path), "f1-", "A map.")
    assert 'id="f1-a"' in text
    assert "url(#f1-a)" in text
    assert isinstance(text, Html)


def test_elements_escape_text_and_attributes() -> None:
    assert element("p", "a<b\nc", title='"x"') == '<p title="&quot;x&quot;">a&lt;b<br>c</p>'
    assert element("p", element("b", "x"), hidden=True, lang=None) == "<p hidden><b>x</b></p>"
