"""Makes and reads the record: exit code, digests of what JSON holds, and the keys of each verb.

    python -m tests.golden.recording FOLDER    # write the record anew, and what was printed to FOLDER

Numbers, switches and words are held to the letter; sentences (texts with a space) only for being there,
times of day and versions not at all. Keys that were added since the record do not count.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import pathlib
import sys
import tempfile
from collections.abc import Iterator, Sequence
from typing import Any

from scenarios.loading.catalogue import ready_names
from tests.golden.commands import commands
from tests.reports.running import steptally

RECORD = pathlib.Path(__file__).with_name("record.json.gz")
UNSTEADY = (
    "seconds",
    "versions",
    "version",
    "written",
    "made",
    "first_seen",
    "size",
    "bytes",
    "path",
    "file",
    "source",
)
"""Keys whose values differ from run to run, or between machines."""

Found = dict[str, Any]


def leaves(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Every leaf of a JSON value under its path; a list's places are numbers."""
    if isinstance(value, dict):
        yield path, "{}"
        for key, each in value.items():
            yield from leaves(each, f"{path}/{key}")
    elif isinstance(value, list):
        yield path, len(value)
        for number, each in enumerate(value):
            yield from leaves(each, f"{path}/{number}")
    else:
        yield path, value


def pattern(path: str) -> str:
    """A path without the numbers of a list's places."""
    return "/".join("*" if part.isdigit() else part for part in path.split("/"))


def steady(path: str, value: Any) -> Any:
    """A leaf as the record holds it."""
    if any(part in UNSTEADY for part in path.split("/")):
        return "unsteady"
    return "a sentence" if isinstance(value, str) and " " in value else value


def digests(value: Any, known: frozenset[str] | None) -> dict[str, str]:
    """A digest for each top-level key of an object, of those leaves that are ``known`` (None: of all)."""
    parts: dict[str, list[str]] = {}
    for path, leaf in leaves(value):
        if known is not None and pattern(path) not in known:
            continue
        top = path.split("/")[1] if "/" in path else ""
        parts.setdefault(top, []).append(f"{path}={json.dumps(steady(path, leaf))}")
    return {
        top: hashlib.sha256("\n".join(sorted(lines)).encode()).hexdigest()[:12]
        for top, lines in parts.items()
    }


def verb(command: Sequence[str]) -> str:
    """What a command's keys are kept under: the verb, with the section of a list."""
    return " ".join(each for each in command[:2] if each != "--json") if command[0] == "list" else command[0]


def measured(command: Sequence[str], folder: pathlib.Path, known: frozenset[str] | None) -> Found:
    """One command, run; ``printed`` is its standard output."""
    done = steptally(folder, *command)
    found: Found = {"exit": done.returncode, "printed": done.stdout}
    if "--json" in command and done.stdout.startswith("{"):
        value = json.loads(done.stdout)
        found["value"], found["digests"] = value, digests(value, known)
    return found


def read() -> Any:
    """The record."""
    return json.loads(gzip.decompress(RECORD.read_bytes()))


def main(place: str) -> None:
    """Write the record, and everything printed to files in a folder."""
    keys: dict[str, set[str]] = {}
    kept: list[Found] = []
    pathlib.Path(place).mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as name:
        for number, command in enumerate(commands(ready_names())):
            found = measured(command, pathlib.Path(name), None)
            print(number, found["exit"], " ".join(command), flush=True)
            pathlib.Path(place, f"{number}.out").write_text(found["printed"], encoding="utf-8")
            if "value" in found:
                keys.setdefault(verb(command), set()).update(
                    pattern(path) for path, _ in leaves(found["value"])
                )
            kept.append({"command": command, "exit": found["exit"], "digests": found.get("digests")})
    text = json.dumps({"keys": {verb: sorted(each) for verb, each in keys.items()}, "commands": kept})
    RECORD.write_bytes(gzip.compress(text.encode(), mtime=0))


if __name__ == "__main__":
    main(sys.argv[1])
