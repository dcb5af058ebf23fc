"""steptally in Python: its verbs as functions that return typed results (see `reports.api`)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from reports.api import *  # noqa: F403


def __getattr__(name: str) -> Any:
    """What `reports.api` offers, imported when it is first used."""
    from reports import api

    if name == "__all__":
        return api.__all__
    return getattr(api, name)


def __dir__() -> list[str]:
    from reports import api

    return dir(api)
