"""Reads an HTML page into a tree by the standard library, and complains of what is not well formed."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

MOST_BYTES = 6_000_000
MOST_POINTS = 20_000
"""Of a page, and of one of its charts."""
HOSTILE = '<script>alert(1)</script></script><!-- & "quotes" \''
"""A text that is harmful where it is not escaped."""
VOID = {"meta", "link", "br", "hr", "img", "input", "col", "area", "base", "wbr", "source"}


@dataclass
class Node:
    """An element: its tag, attributes, children, and the text directly inside it."""

    tag: str
    attributes: dict[str, str]
    children: list[Node] = field(default_factory=list)
    order: list[Node | str] = field(default_factory=list)

    def all(self, *tags: str) -> list[Node]:
        """Elements below it with one of the tags (any if none is given), in order."""
        return [each for each in self.walk() if not tags or each.tag in tags]

    def walk(self) -> Iterator[Node]:
        """Every element below it, in order."""
        for child in self.children:
            yield child
            yield from child.walk()

    def one(self, tag: str) -> Node:
        """The only element below it with the tag."""
        found = self.all(tag)
        assert len(found) == 1, (tag, len(found))
        return found[0]

    @property
    def text(self) -> str:
        """All text inside it, blanks joined."""
        return " ".join("".join(self._texts()).split())

    def _texts(self) -> Iterator[str]:
        for part in self.order:
            if isinstance(part, str):
                yield part
            else:
                yield from part._texts()


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.top = Node("", {})
        self.path = [self.top]
        self.faults: list[str] = []
        self.declared = ""

    def handle_decl(self, decl: str) -> None:
        self.declared = decl

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        if len(names) != len(set(names)):
            self.faults.append(f"<{tag}> has an attribute twice")
        node = Node(tag, {name: value or "" for name, value in attrs})
        self.path[-1].children.append(node)
        self.path[-1].order.append(node)
        if tag not in VOID:
            self.path.append(node)

    def handle_endtag(self, tag: str) -> None:
        if self.path[-1].tag != tag:
            self.faults.append(f"</{tag}> ends <{self.path[-1].tag}> at {self.getpos()}")
            return
        self.path.pop()

    def handle_data(self, data: str) -> None:
        self.path[-1].order.append(data)


def read_page(text: str) -> Node:
    """The tree.  Fails where elements are not closed in order, or the page is not declared as HTML."""
    reader = _Reader()
    reader.feed(text)
    reader.close()
    assert reader.faults == []
    assert [node.tag for node in reader.path] == [""]
    assert reader.declared.lower() == "doctype html"
    return reader.top


def data_of(tree: Node, place: str) -> Any:
    """The data that a page carries for its scripts, by the id of their place."""
    return json.loads(next(node for node in tree.all("script") if node.attributes.get("id") == place).text)


def words(node: Node) -> str:
    """The text inside an element, without blanks that only keep it in one line."""
    return node.text.replace("\N{NO-BREAK SPACE}", " ")
