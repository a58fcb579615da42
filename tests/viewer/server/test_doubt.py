"""Places that a corrected shape has moved are confirmed from the page as by `mapper confirm`."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from mapper.store.shop import open_shop
from tests.viewer.server.talk import ANN, BEN, JOB, action, again, entry, stroke, undo, where

# As `mapper remap` stores it.
WHY = "moved 25.4 mm when the shape was corrected"


@pytest.fixture
def doubted(say: Any, shop: Path) -> Any:
    """The view of an entry whose place a correction has put in doubt."""
    said = entry(where=where(stroke((600, 300))))
    say("actions", action(said))
    with open_shop(shop) as store:
        stored = store.book(JOB).entry(said["id"])
        with store.act(ANN, "shape of RW-00 corrected") as act:
            act.change(replace(stored, unconfirmed=WHY))
    (view,) = say("actions", action(again_of(stored.version + 1, said), op="change"))["changes"][
        "entries"
    ]
    return view


def again_of(version: int, said: Any) -> Any:
    """The entry with another note and nothing drawn."""
    return {**said, "version": version, "where": None, "place": "", "note": "seen again"}


def test_a_place_in_doubt_is_told_why_in_the_shops_units_and_confirmed_once(
    say: Any, shop: Path, doubted: Any
) -> None:
    # A change that says nothing of the place leaves the doubt.
    assert doubted["unconfirmed"] and doubted["doubt"] == WHY
    sent = action({**again(doubted), "confirmed": True}, op="change", by=BEN)
    (view,) = say("actions", sent)["changes"]["entries"]
    assert (view["unconfirmed"], view["doubt"], view["note"]) == (False, "", "seen again")
    assert say("actions", sent)["status"] == "repeated"
    with open_shop(shop) as store:
        kept = store.book(JOB).entry(view["id"])
        row = store.history(JOB)[0]
    assert kept.unconfirmed == "" and row.by == BEN
    assert kept.outline is not None and kept.by == ANN
    say("undo", undo(BEN))
    with open_shop(shop) as store:
        assert store.book(JOB).entry(view["id"]).unconfirmed == WHY


def test_what_nobody_doubts_is_not_confirmed(say: Any) -> None:
    (view,) = say("actions", action(entry()))["changes"]["entries"]
    refusal = say("actions", action({**again(view), "confirmed": True}, op="change"), 422)
    assert "is not in doubt" in refusal["message"]
