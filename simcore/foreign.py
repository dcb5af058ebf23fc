"""Records of other packages among ours: where they come from, and why a compiler refused their rules."""

from __future__ import annotations

import pathlib
import re
import sys
from collections.abc import Iterable
from typing import Any

OWN = ("simcore.", "tests.")
"""Where our own records live; their rules must compile."""


def foreign_modules(arguments: Iterable[Any]) -> set[str]:
    """The modules outside this package that define a record among the arguments, or inside one."""
    found: set[str] = set()
    for each in arguments:
        if isinstance(each, tuple):
            module = type(each).__module__
            if module != "builtins" and not module.startswith(OWN):
                found.add(module)
            found |= foreign_modules(each)
    return found


def reason(text: str, module: str) -> str:
    """Where in a module's file a compiler's error arose and what it says there, or else its first line."""
    file = pathlib.Path(getattr(sys.modules.get(module), "__file__", None) or module).name
    found = re.search(rf"""([^\n]*)\n\s*File [^\n]*{re.escape(file)}"?, line (\d+)""", text)
    if found:
        return f"{file}, line {found[2]}: {found[1].strip()}"
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    return (lines or ["no reason given"])[0].rstrip(".:")[:200]
