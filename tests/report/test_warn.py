"""Cautions: those of all work once at the front, others on the page they are for, none lost."""

from __future__ import annotations

from mapper.estimate.cautions import cautions_for
from mapper.report.model import Warnings, Words
from mapper.report.warn import FOR_ALL, general, shared


def test_a_page_has_its_own_cautions_and_the_way_to_the_others_in_one_box() -> None:
    own = cautions_for(bearings_inside=True, control_surface=True)
    front = shared([general(), (*general(), *own)], ())
    (box,) = front.beyond((*general(), *own))
    assert isinstance(box, Warnings)
    texts = [text for text, _ in box.items]
    assert texts[:-1] == [c.text for c in own if c not in general()]
    assert FOR_ALL in texts[-1]
    assert len(texts) > 1


def test_a_page_without_cautions_of_its_own_points_to_the_front() -> None:
    (words,) = shared([general()], ()).beyond(general())
    assert isinstance(words, Words)
    assert FOR_ALL in words.text
