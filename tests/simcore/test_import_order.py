"""The rooms of simcore stand in an order, and imports run one way along it."""

from __future__ import annotations

import ast
import pathlib

import simcore

HOUSE = pathlib.Path(simcore.__file__).parent
ORDER = (
    "base", "hand", "contacts", "counters", "stages", "networks", "kinds", "design", "judging", "engines",
    "checks", "statistics", "campaigns", "tracing",
)  # fmt: skip
"""Each may import those before it."""


def test_every_room_has_its_place() -> None:
    rooms = {path.stem for path in HOUSE.glob("*.py")} | {path.parent.name for path in HOUSE.glob("*/*.py")}
    assert rooms - {"__init__"} == set(ORDER)


def test_imports_run_one_way() -> None:
    backward = []
    for path in sorted(HOUSE.rglob("*.py")):
        parts = path.relative_to(HOUSE).with_suffix("").parts
        if parts == ("__init__",):
            continue
        for module in _imported(path):
            package, _, rest = module.partition(".")
            if package in ("scenarios", "reports"):
                backward.append(f"{'/'.join(parts)}: {module}")
            elif package == "simcore" and rest:
                room = rest.partition(".")[0]
                if room in ORDER and ORDER.index(room) > ORDER.index(parts[0]):
                    backward.append(f"{'/'.join(parts)}: {module}")
    assert backward == []


def _imported(path: pathlib.Path) -> list[str]:
    """All modules that a file imports anywhere but for types alone; of ``from simcore import x`` the name is
    one too.
    """
    found: list[str] = []
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for_types = {
        each
        for node in tree.body
        if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"
        for each in ast.walk(node)
    }
    for node in ast.walk(tree):
        if node in for_types:
            continue
        if isinstance(node, ast.Import):
            found += [each.name for each in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module == "simcore":
            found += [f"simcore.{each.name}" for each in node.names]
        elif isinstance(node, ast.ImportFrom):
            found.append(node.module or "")
    return found
