"""From the tables as written to the tables that the schema reads: names and parts filled in."""

from __future__ import annotations

from collections.abc import Container, Mapping
from typing import Any

from scenarios.loading.catalogue import PART_SECTIONS, list_parts, part_keys
from scenarios.loading.messages import Fault, KeyPath, hint, listed, shown

ORDINARY = "ordinary"
"""The contacts of a scenario that says nothing about them."""
MOST_ITEMS = 500
"""Stages, or gestures, at most."""


def give_names(raw: dict[str, Any]) -> list[Fault]:
    """Name stages and gestures that have no name after their kind, numbered if that is taken.

    Replaces a ``stage`` or ``hand`` that is no array of tables by an empty list, and reports it.
    """
    faults = []
    for section, key in (("stage", "kind"), ("hand", "gesture")):
        items = raw.setdefault(section, [])
        if not isinstance(items, list) or not all(isinstance(item, dict) for item in items):
            faults.append(Fault((section,), shown(items), f"expected tables, each begun with [[{section}]]"))
            raw[section] = []
            continue
        if len(items) > MOST_ITEMS:
            message = f"expected at most {MOST_ITEMS} tables [[{section}]]"
            faults.append(Fault((section,), f"{len(items)} tables", message))
            raw[section] = []
            continue
        if section == "hand" and not items:
            faults.append(Fault(("hand",), "", "there is no [[hand]]; expected one gesture or more"))
        faults += _name_items(items, section, key)
    return faults


def name_members(raw: dict[str, Any]) -> list[Fault]:
    """Give every gesture of a mix the name that its table [hand.of.NAME] has."""
    faults = []
    for number, item in enumerate(raw["hand"]):
        members = item.get("of")
        for name, member in members.items() if isinstance(members, dict) else ():
            if isinstance(member, dict):
                if "name" in member:
                    message = "unknown key; a gesture of a mix has its name from its table [hand.of.NAME]"
                    faults.append(Fault(("hand", number, "of", name, "name"), shown("name"), message))
                member["name"] = name
    return faults


def _name_items(items: list[dict[str, Any]], section: str, key: str) -> list[Fault]:
    """Name items that have no name, and report names used twice."""
    faults, taken = [], set()
    for number, item in enumerate(items):
        name = item.get("name")
        if isinstance(name, str) and name in taken:
            faults.append(
                Fault((section, number, "name"), shown(name), "this name is taken; expected a name used once")
            )
            del item["name"]
        elif isinstance(name, str):
            taken.add(name)
    for item in items:
        if "name" not in item:
            item["name"] = _free_name(str(item.get(key) or item.get("part") or "unnamed"), taken)
            taken.add(item["name"])
    return faults


def _free_name(kind: str, taken: Container[str]) -> str:
    """A name that is not taken, after a kind, without the characters that separate paths."""
    base = "".join(letter for letter in kind[:40] if letter.isprintable() and letter not in ".=") or "unnamed"
    name, number = base, 1
    while name in taken:
        number += 1
        name = f"{base} {number}"
    return name


def merge_parts(raw: dict[str, Any], chosen: Container[KeyPath]) -> list[Fault]:
    """Replace each ``part`` by its keys; keys beside it override them.

    ``chosen`` holds the places that options have set: a kind set by an option overrides a
    part of another kind, and a part set by an option a kind in the file.
    """
    contacts = raw.setdefault("contacts", {})
    if isinstance(contacts, dict) and not {"part", "kind"} & contacts.keys():
        contacts["part"] = ORDINARY
    faults = []
    for section in PART_SECTIONS:
        for path, table in _tables(raw, section):
            if "part" in table:
                faults += _merge(table, path, section, chosen)
    return faults


def _tables(raw: dict[str, Any], section: str) -> list[tuple[KeyPath, dict[str, Any]]]:
    found = raw.get(section)
    if isinstance(found, dict):
        return [((section,), found)]
    if isinstance(found, list):
        return [((section, number), item) for number, item in enumerate(found) if isinstance(item, dict)]
    return []


def _merge(table: dict[str, Any], path: KeyPath, section: str, chosen: Container[KeyPath]) -> list[Fault]:
    name = table.pop("part")
    part = part_keys(name, section) if isinstance(name, str) else None
    if part is None:
        known = [each.name for each in list_parts() if each.kind == section]
        near = hint(name, known) if isinstance(name, str) else ""
        return [Fault((*path, "part"), shown(name), f"unknown part; expected {listed(known)}{near}")]
    kind = table.get("kind")
    if kind is not None and kind != part.get("kind"):
        if (*path, "kind") in chosen:
            return []
        if (*path, "part") not in chosen:
            message = (
                f'expected "{part.get("kind")}", the kind of the part "{name}"; leave out either part or kind'
            )
            return [Fault((*path, "kind"), shown(kind), message)]
        del table["kind"]
    _add_defaults(table, part)
    return []


def _add_defaults(table: dict[str, Any], part: Mapping[str, Any]) -> None:
    """Add the part's keys that the table does not have itself."""
    for key, value in part.items():
        if isinstance(value, dict) and isinstance(table.setdefault(key, {}), dict):
            _add_defaults(table[key], value)
        else:
            table.setdefault(key, value)
