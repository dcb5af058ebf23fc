"""One word, one meaning: no class name stands twice in the product."""

from __future__ import annotations

import ast
import collections
import pathlib

TOP = pathlib.Path(__file__).parents[1]


def test_no_class_name_stands_twice() -> None:
    places = collections.defaultdict(list)
    for package in ("simcore", "scenarios", "reports"):
        for path in sorted((TOP / package).rglob("*.py")):
            for node in ast.parse(path.read_text(encoding="utf-8")).body:
                if isinstance(node, ast.ClassDef):
                    places[node.name].append(str(path.relative_to(TOP)))
    assert len(places) > 200
    assert {name: where for name, where in places.items() if len(where) > 1} == {}
