"""Whatever is in a part file, reading it answers with a spec or with mistakes, never otherwise."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from mapper.job.partfile.mistakes import PartFileError
from mapper.job.partfile.read import read_text
from mapper.job.partfile.words import example, example_names

TEXTS = [example(name) for name in example_names()]
VALUES = st.sampled_from(
    ["0", "-1", "1e400", "nan", "true", '""', '"x"', '"59 1/0"', "[]", "[1, 2]", "{}", "[[1, 2]]",
     "[{}]", "2026-01-01", "07:00:00", '"loft"', "99999999999999999999", "'''a\nb'''", '"rib 1"']
)  # fmt: skip


@st.composite
def spoilt(draw: st.DrawFn) -> str:
    """An example with some of its lines changed, doubled, taken out or moved."""
    lines = draw(st.sampled_from(TEXTS)).split("\n")
    for _ in range(draw(st.integers(1, 6))):
        at = draw(st.integers(0, len(lines) - 1))
        key = lines[at].split("=")[0]
        match draw(st.integers(0, 3)):
            case 0:
                lines[at] = f"{key}= {draw(VALUES)}"
            case 1:
                lines.insert(draw(st.integers(0, len(lines))), lines[at])
            case 2 if len(lines) > 1:
                del lines[at]
            case _:
                lines[at] = draw(st.text(max_size=30))
    return "\n".join(lines)


def holds(text: str) -> None:
    count = text.replace("\r\n", "\n").replace("\r", "\n").count("\n") + 1
    try:
        read_text(text)
    except PartFileError as error:
        assert error.mistakes
        for mistake in error.mistakes:
            assert 0 <= mistake.line <= count
            assert mistake.given
            assert mistake.text() in str(error)


@settings(max_examples=150, deadline=None)
@given(spoilt())
def test_a_spoilt_example_gives_mistakes_with_lines_of_the_file(text: str) -> None:
    holds(text)


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=200))
def test_any_text_at_all_gives_mistakes(text: str) -> None:
    holds(text)
