"""Dictionaries and lists that refuse to be changed, so that a result stays what was computed.

They still are dictionaries and lists: json, csv and table libraries take them, and they equal plain ones.
"""

from __future__ import annotations

import copy
from typing import Any, NoReturn


def _refuse(self: Any, *_: Any, **__: Any) -> NoReturn:
    """Raise TypeError."""
    raise TypeError("a result cannot be changed; copy.deepcopy gives a copy that can")


class ReadOnlyDict(dict[str, Any]):
    """A dictionary that raises TypeError when it is to be changed; `copy.deepcopy` makes a plain one."""

    __setitem__ = __delitem__ = __ior__ = _refuse
    clear = pop = popitem = setdefault = update = _refuse

    def __deepcopy__(self, memo: dict[int, Any]) -> dict[str, Any]:
        return {key: copy.deepcopy(value, memo) for key, value in self.items()}

    def __reduce__(self) -> tuple[Any, ...]:
        return ReadOnlyDict, (dict(self),)


class ReadOnlyList(list[Any]):
    """A list that raises TypeError when it is to be changed; `copy.deepcopy` makes a plain one."""

    __setitem__ = __delitem__ = __iadd__ = __imul__ = _refuse
    append = clear = extend = insert = pop = remove = reverse = sort = _refuse

    def __deepcopy__(self, memo: dict[int, Any]) -> list[Any]:
        return [copy.deepcopy(value, memo) for value in self]

    def __reduce__(self) -> tuple[Any, ...]:
        return ReadOnlyList, (list(self),)


def read_only(value: Any) -> Any:
    """A copy of nested dictionaries and lists that cannot be changed."""
    if isinstance(value, dict):
        return ReadOnlyDict({key: read_only(each) for key, each in value.items()})
    if isinstance(value, (list, tuple)):
        return ReadOnlyList(read_only(each) for each in value)
    return value
