"""Builds HTML from elements: text is always escaped, so no user text can become markup."""

from __future__ import annotations

from html import escape

EMPTY_ELEMENTS = frozenset({"meta", "img", "link", "br", "hr", "col"})


class Html(str):
    """Text that is already HTML; made by `element` and by our own constants only."""

    __slots__ = ()


def text_of(child: str) -> str:
    """HTML as it is; any other text escaped, its line breaks kept."""
    if isinstance(child, Html):
        return child
    return escape(child, quote=True).replace("\n", "<br>")


def element(name: str, /, *children: str, **attributes: str | bool | None) -> Html:
    """`<name attributes>children</name>`.

    attributes: a trailing underscore is dropped ("class_"), others become hyphens ("aria_label");
    True prints the name alone, None and False leave it out; values are escaped.
    """
    inside = "".join(_attribute(key, value) for key, value in attributes.items())
    if name in EMPTY_ELEMENTS:
        return Html(f"<{name}{inside}>")
    return Html(f"<{name}{inside}>{''.join(text_of(c) for c in children)}</{name}>")


def joined(*children: str) -> Html:
    """Several pieces after each other; nothing for none."""
    return Html("".join(text_of(c) for c in children))


def _attribute(key: str, value: str | bool | None) -> str:
    name = key.rstrip("_").replace("_", "-")
    if value is None or value is False:
        return ""
    if value is True:
        return f" {name}"
    return f' {name}="{escape(value, quote=True)}"'
