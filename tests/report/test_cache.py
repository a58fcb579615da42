"""Made once, found again; never half a file."""

from __future__ import annotations

from pathlib import Path

import pytest

from mapper.report.cache import KEPT_FOR, Cache, key_of


def test_a_file_is_made_once(tmp_path: Path) -> None:
    cache = Cache(tmp_path / "c")
    key = key_of("map", 1)
    for _ in range(2):
        path = cache.file(key, ".txt", lambda out: out.write_text("x", "utf-8"))
        assert path.read_text("utf-8") == "x"
    assert (cache.made, cache.found) == (1, 1)


def test_other_parts_give_another_key() -> None:
    assert len({key_of("a", 1), key_of("a", 2), key_of("b", 1), key_of("a"), key_of()}) == 5
    assert key_of({"a": 1, "b": 2}) == key_of({"b": 2, "a": 1})


def test_a_stopped_making_leaves_nothing(tmp_path: Path) -> None:
    cache = Cache(tmp_path)

    def stopped(out: Path) -> None:
        out.write_text("half", "utf-8")
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        cache.file(key_of("x"), ".txt", stopped)
    assert list(tmp_path.iterdir()) == []


def test_a_damaged_value_is_made_again(tmp_path: Path) -> None:
    cache = Cache(tmp_path)
    key = key_of("v")
    assert cache.value(key, lambda: {"a": [1, 2.5, None]}) == {"a": [1, 2.5, None]}
    cache.path(key, ".json").write_text('{"a": [1', "utf-8")
    assert cache.value(key, lambda: {"a": 3}) == {"a": 3}


def test_what_nobody_used_goes(tmp_path: Path) -> None:
    cache = Cache(tmp_path)
    path = cache.file(key_of("x"), ".txt", lambda out: out.write_text("x", "utf-8"))
    assert cache.tidy(path.stat().st_mtime + KEPT_FOR - 10) == 0
    assert cache.tidy(path.stat().st_mtime + KEPT_FOR + 10) == 1
    assert not path.exists()
