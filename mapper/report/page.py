"""The screen copy: one HTML file that needs nothing else; for phone, keyboard and paper too."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count
from pathlib import Path

from mapper.report.inline import data_address, inline_svg
from mapper.report.model import (
    SIGN_HEADS,
    Beside,
    Block,
    Bullets,
    Document,
    Facts,
    Figure,
    Gallery,
    Section,
    Table,
    ToSign,
    Warnings,
    Words,
)
from mapper.report.tags import Html, element, joined

STYLE = Path(__file__).with_name("page.css")
FEW = 5  # columns
# Nothing is fetched and nothing runs: the file is a document, not a program.
POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'"


def write_page(document: Document, target: Path) -> None:
    """Writes the document as one HTML file to `target` (UTF-8)."""
    target.write_text(page(document), "utf-8")


def page(document: Document) -> str:
    """The document as the text of one HTML file; pictures are inside it."""
    maker = _Page()
    head = element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", http_equiv="Content-Security-Policy", content=POLICY),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("meta", name="color-scheme", content="light dark"),
        element("title", document.title),
        element("style", Html(STYLE.read_text("utf-8"))),
    )
    numbered = [(f"s{i}", s) for i, s in enumerate(document.sections, 1)]
    main = element(
        "main",
        *(maker.block(b) for b in document.cover),
        *(maker.section(s, name) for name, s in numbered),
        element("footer", element("p", document.footer, dir="auto")),
        id="main",
    )
    body = element(
        "body",
        element("a", "To the report", class_="skip", href="#main"),
        # What this is comes before its contents, also on a phone where both are one column.
        element(
            "header",
            element("h1", document.title, dir="auto"),
            element("p", document.subtitle, class_="subtitle", dir="auto"),
        ),
        element(
            "nav",
            element("h2", "Contents", id="contents"),
            contents(numbered),
            aria_labelledby="contents",
        ),
        main,
    )
    return "<!DOCTYPE html>\n" + element("html", head, body, lang="en") + "\n"


def contents(numbered: list[tuple[str, Section]]) -> Html:
    """Nested lists of links, three levels deep; an empty list for no sections."""
    shown = [(name, s) for name, s in numbered if s.level <= 3]

    def level_of(start: int, level: int) -> tuple[Html, int]:
        rows, i = [], start
        while i < len(shown) and shown[i][1].level >= level:
            name, section = shown[i]
            link = element("a", section.title, href="#" + name, dir="auto")
            below, i = level_of(i + 1, level + 1)
            if below and level == 2:  # panels of a part: folded until asked for
                inside = element("details", element("summary", "Panels"), below)
                rows.append(element("li", link, inside))
            else:
                rows.append(element("li", link, below))
        return (element("ul", *rows) if rows else Html("")), i

    return level_of(0, 1)[0]


class _Page:
    """Writes blocks; figures get ids of their own."""

    def __init__(self) -> None:
        self.numbers: Iterator[int] = count(1)

    def section(self, section: Section, name: str) -> Html:
        return element(
            "section",
            element(f"h{section.level + 1}", section.title, id=name, dir="auto"),
            *(self.block(b) for b in section.blocks),
            element("p", element("a", "Contents", href="#contents"), class_="back"),
            class_="new-page" if section.new_page else None,
            aria_labelledby=name,
        )

    def block(self, block: Block) -> Html:
        match block:
            case Words():
                return element("p", block.text, class_=block.tone, dir="auto")
            case Facts():
                rows = (
                    joined(element("dt", label), element("dd", value, dir="auto"))
                    for label, value in block.rows
                )
                return element("dl", *rows) if block.rows else Html("")
            case Table():
                return self.table(block)
            case Bullets():
                if not block.items:
                    return element("p", block.empty) if block.empty else Html("")
                return element("ul", *(element("li", i, dir="auto") for i in block.items))
            case Warnings():
                return self.warnings(block)
            case Figure():
                return self.figure(block)
            case Gallery():
                maps = any(f.kind == "map" for f in block.figures)
                figures = (self.figure(f) for f in block.figures)
                return element("div", *figures, class_="gallery maps" if maps else "gallery")
            case Beside():
                blocks = element("div", *(self.block(b) for b in block.blocks))
                return element("div", self.figure(block.figure), blocks, class_="beside")
            case ToSign():
                return self.to_sign(block)

    def table(self, table: Table) -> Html:
        caption = element("caption", table.caption, dir="auto")
        if not table.rows:
            return joined(
                element("p", element("strong", table.caption), dir="auto"),
                element("p", table.empty),
            )
        # On a phone a row becomes a short list where there is much to read in it, or few columns.
        worded = sum(not c.number for c in table.columns) * 2 > len(table.columns)
        worded = worded or len(table.columns) <= FEW
        heads = (
            element("th", c.head, scope="col", class_="number" if c.number else None)
            for c in table.columns
        )
        rows = []
        for i, row in enumerate(table.rows):
            last = table.total and i == len(table.rows) - 1
            cells = [
                element(
                    "th" if j == 0 else "td",
                    element("span", text, dir="auto") if text else "",
                    scope="row" if j == 0 else None,
                    class_="number" if column.number else None,
                    data_head=column.head,
                )
                for j, (column, text) in enumerate(zip(table.columns, row, strict=True))
            ]
            rows.append(element("tr", *cells, class_="total" if last else None))
            if table.details and table.details[i]:
                words = element("span", table.details[i], dir="auto")
                wide = element("td", words, colspan=str(len(table.columns)))
                rows.append(element("tr", wide, class_="detail"))
        whole = sum(c.share for c in table.columns)
        widths = (
            element("col", style=f"width: {100 * c.share / whole:.1f}%") for c in table.columns
        )
        made = element(
            "table",
            caption,
            element("colgroup", *widths),
            element("thead", element("tr", *heads)),
            element("tbody", *rows),
            class_=" ".join(
                name for name, on in (("stacked", worded), ("small", table.small)) if on
            )
            or None,
        )
        foot = (element("p", s, class_="quiet", dir="auto") for s in table.foot)
        return joined(self.scroll(made, table.caption), *foot)

    def scroll(self, inside: Html, name: str, extra: str = "") -> Html:
        """A frame that can be scrolled sideways by finger and by arrow keys."""
        return element(
            "div",
            inside,
            class_=("scroll " + extra).strip(),
            tabindex="0",
            role="region",
            aria_label=name,
        )

    def warnings(self, block: Warnings) -> Html:
        if not block.items:
            return Html("")
        items = (
            element("li", text, element("small", f" ({source})") if source else "", dir="auto")
            for text, source in block.items
        )
        return element(
            "div", element("p", "Caution", class_="word"), element("ul", *items), class_="caution"
        )

    def figure(self, figure: Figure) -> Html:
        number = next(self.numbers)
        if figure.file.suffix == ".svg":
            drawing = inline_svg(figure.file, f"f{number}-", figure.alt)
            inside = self.scroll(drawing, figure.caption or figure.alt, "paper")
        else:
            inside = element("img", src=data_address(figure.file), alt=figure.alt, loading="lazy")
        caption = element("figcaption", figure.caption, dir="auto") if figure.caption else ""
        return element("figure", inside, caption, class_=figure.kind)

    def to_sign(self, block: ToSign) -> Html:
        rows = (
            element(
                "tr",
                *(
                    element("td", element("span", cell, dir="auto") if cell else "", data_head=head)
                    for head, cell in zip(SIGN_HEADS, (*line, "", ""), strict=True)
                ),
            )
            for line in block.lines
        )
        made = element(
            "table",
            element("caption", "Lines to sign by hand"),
            element("thead", element("tr", *(element("th", h, scope="col") for h in SIGN_HEADS))),
            element("tbody", *rows),
            class_="sign stacked",
        )
        return self.scroll(made, "Lines to sign by hand")
