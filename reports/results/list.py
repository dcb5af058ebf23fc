"""The result of ``steptally list``: of the whole list, or of one section."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Any, Self

from pydantic import Field, model_validator

from reports.results.common import Flag, Record, Result, Row, Texts, flat

if TYPE_CHECKING:
    from reports.documents.document import Document

SECTIONS = ("stages", "inputs", "counters", "contacts", "gestures")


class ReadyScenario(Record):
    """A ready scenario."""

    name: str = Field(description="Its name, as steptally run takes it.")
    title: str = Field(description="What it is.")
    paths: Texts = Field(description="Paths that --set takes.")


class ListedPart(Record):
    """A part that a scenario may name."""

    name: str = Field(description="Its name, as a scenario writes it.")
    kind: str = Field(description="What it is a part for: encoder, contacts, stage or counter.")
    title: str = Field(description="What it is.")


class KindKey(Record):
    """A key of a kind."""

    path: str = Field(description="The key within its table, as in tolerance.series.")
    takes: str = Field(description="What may be written.")
    unit: str = Field(description="The unit of a quantity; empty for what has none.")
    default: str = Field(description="Its default as a file would have it; empty where there is none.")
    needed: Flag = Field(description="Whether it is required.")
    meaning: str = Field(description="What it is, in a line.")


class ListedKind(Record):
    """A kind that a scenario may use, with its keys."""

    kind: str = Field(description="The word under kind, or under gesture.")
    meaning: str = Field(description="What it is, in a sentence.")
    parameters: tuple[KindKey, ...] = Field(description="Its keys.")
    package: str = Field(description="The package that adds it; empty for a built-in kind.")


class ListResult(Result):
    """The ready scenarios and parts; or the kinds of one section and their keys.

    The keys of what was not listed are left out of the JSON.
    """

    scenarios: tuple[ReadyScenario, ...] | None = Field(default=None, description="Ready scenarios.")
    parts: tuple[ListedPart, ...] | None = Field(default=None, description="Parts that a scenario may name.")
    stages: tuple[ListedKind, ...] | None = Field(
        default=None, description="Kinds that may stand under [[stage]], inputs included."
    )
    inputs: tuple[ListedKind, ...] | None = Field(
        default=None, description="The stages that make a logic level of a voltage."
    )
    counters: tuple[ListedKind, ...] | None = Field(default=None, description="Kinds for [counter].")
    contacts: tuple[ListedKind, ...] | None = Field(default=None, description="Kinds for [contacts].")
    gestures: tuple[ListedKind, ...] | None = Field(default=None, description="Kinds for [[hand]].")

    @model_validator(mode="after")
    def _is_one_list(self) -> Self:
        listed = {name for name, value in self if value is not None}
        if listed != {"scenarios", "parts"} and not (len(listed) == 1 and listed <= {*SECTIONS}):
            raise ValueError(f"expected scenarios with parts, or one section, got {sorted(listed)}")
        return self

    @classmethod
    def of(cls, what: str | None) -> ListResult:
        """The ready scenarios and parts; or the kinds of a section, one of SECTIONS."""
        from scenarios.loading.catalogue import list_parts, ready_names
        from scenarios.loading.load import load_scenario
        from scenarios.schema.reference import kinds_of

        if what is not None:
            return cls.model_validate({what: [asdict(kind) for kind in kinds_of(what)]})
        loaded = {name: load_scenario(name) for name in ready_names()}
        return cls(
            scenarios=tuple(
                ReadyScenario(name=name, title=each.title, paths=each.paths) for name, each in loaded.items()
            ),
            parts=tuple(ListedPart(name=p.name, kind=p.kind, title=p.title) for p in list_parts()),
        )

    def document(self) -> Document:
        from reports.documents.list import document

        return document(self)

    @property
    def export(self) -> dict[str, Any]:
        return self.model_dump(by_alias=True, exclude_none=True)

    @property
    def what(self) -> str | None:
        return next((name for name in SECTIONS if getattr(self, name) is not None), None)

    @property
    def kinds(self) -> tuple[ListedKind, ...]:
        """The kinds of the section; empty for the whole list."""
        return () if self.what is None else getattr(self, self.what)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the ready scenarios, or the kinds."""
        if self.scenarios is not None:
            return tuple(each.name for each in self.scenarios)
        return tuple(each.kind for each in self.kinds)

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        if self.scenarios is not None:
            return {
                "scenarios": [flat(each, without=("paths",)) for each in self.scenarios],
                "parts": [flat(each) for each in self.parts or ()],
            }
        return {
            "kinds": [flat(each, without=("parameters",)) for each in self.kinds],
            "keys": [flat(key, kind=each.kind) for each in self.kinds for key in each.parameters],
        }
