"""What comes with the package: ready scenarios, parts, and the starter.

Reads TOML with the standard library only, so that listing names stays quick.
"""

from __future__ import annotations

import functools
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

PART_SECTIONS = ("encoder", "contacts", "stage", "counter")
"""Sections that take ``part = "..."``."""


@dataclass(frozen=True)
class ReadyPart:
    """A part on the shelf: its name, the section it can be used in (``kind``), what it is."""

    name: str
    kind: str
    title: str


def _names(folder: str) -> tuple[str, ...]:
    found = (entry.name for entry in files("scenarios").joinpath(folder).iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in found if name.endswith(".toml")))


def _text(folder: str, name: str) -> str:
    return files("scenarios").joinpath(folder, f"{name}.toml").read_text(encoding="utf-8")


@functools.cache
def ready_names() -> tuple[str, ...]:
    return _names("ready")


def ready_text(name: str) -> str:
    """The TOML text of a ready scenario; KeyError for any other name."""
    if name not in ready_names():
        raise KeyError(name)
    return _text("ready", name)


def ready_title(name: str) -> str:
    """What a ready scenario shows, in one line; KeyError for any other name."""
    return str(tomllib.loads(ready_text(name))["title"])


@functools.cache
def library_names() -> tuple[str, ...]:
    return _names("libraries")


def library_text(name: str) -> str:
    """The TOML text of a ready library; KeyError for any other name."""
    if name not in library_names():
        raise KeyError(name)
    return _text("libraries", name)


def starter_text() -> str:
    """A commented scenario to start from, which runs as it is."""
    return files("scenarios").joinpath("starter.toml").read_text(encoding="utf-8")


@functools.cache
def _shelf() -> dict[str, dict[str, Any]]:
    return {name: tomllib.loads(_text("parts", name)) for name in _names("parts")}


@functools.cache
def list_parts() -> tuple[ReadyPart, ...]:
    """All parts, by section and name; a part file may serve several sections."""
    return tuple(
        ReadyPart(name, section, str(shelf["title"]))
        for section in PART_SECTIONS
        for name, shelf in sorted(_shelf().items())
        if section in shelf
    )


def part_keys(name: str, section: str) -> Mapping[str, Any] | None:
    """What a part says for a section, or None when there is no such part for it."""
    found: Mapping[str, Any] | None = _shelf().get(name, {}).get(section)
    return found
