"""Whoever asked last is helped first."""

from __future__ import annotations

import threading
import time

from mapper.viewer.server.helper import LatestFirst


def test_the_last_to_ask_is_next():
    turns, order = LatestFirst(), []

    def ask(name: str) -> None:
        with turns:
            order.append(name)

    asking = [threading.Thread(target=ask, args=(name,)) for name in ("first", "second", "third")]
    with turns:
        for count, thread in enumerate(asking, 1):
            thread.start()
            while len(turns.waiting) < count:
                time.sleep(0.001)
        assert order == []
    for thread in asking:
        thread.join()
    assert order == ["third", "second", "first"]
