"""Two versions of a record in words: only what differs, down to the single value."""

from __future__ import annotations

from mapper.store.canonical import differences, same_content


def test_of_many_values_only_the_one_that_differs_is_told() -> None:
    one = {"version": 3, "values": {"basis": "x" * 300, "technique": "glass"}, "note": ""}
    other = {"version": 4, "values": {"basis": "x" * 300, "technique": "eye"}, "note": ""}
    assert differences(one, other) == ('values, technique: "glass" given, "eye" stored',)
    assert differences(one, {**one, "version": 9}) == ()


def test_a_value_that_one_side_has_not_is_told() -> None:
    one, other = {"values": {"length": 3}}, {"values": {}}
    assert differences(one, other) == ("values, length: 3 given, null stored",)
    assert differences({"values": None}, other) == ("values: null given, {} stored",)


def test_a_version_among_the_values_counts() -> None:
    assert not same_content({"values": {"version": 1}}, {"values": {"version": 2}})
    assert same_content({"version": 1}, {"version": 2})
