"""Where a file calls things by their names: every place that has to follow when a thing is given another name.

Which fields these are stands with the fields themselves, as ``Calls`` in ``Annotated``; nothing is listed here.
"""

from __future__ import annotations

import typing
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic.fields import FieldInfo

from shopsim.scenario.base_record import Calls, Record
from shopsim.scenario.model import Scenario
from shopsim.scenario.places import KeyPath


@dataclass(frozen=True)
class Reference:
    """``value``, one name or a list of them, at ``where`` calls things of ``kind``.

    ``many``: whether a list may stand there; ``design``: the design that is meant, where one is said.
    """

    where: KeyPath
    kind: str
    value: Any
    many: bool
    design: str | None = None


def find_references(data: Any) -> Iterator[Reference]:
    """Everything in a scenario's plain data that calls a thing by its name; what is written otherwise is passed over."""
    yield from _within(Scenario, data, ())


def list_references(
    record: type[Record] = Scenario, keys: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], str]]:
    """(keys from the outermost on, kind of thing) of every field that calls a thing by its name."""
    for key, field in record.model_fields.items():
        calls = _calls_of(field)
        if calls is not None:
            yield (*keys, key), calls.kind
        for inner in records_in(field.annotation):
            yield from list_references(inner, (*keys, key))


def records_in(annotation: Any) -> list[type[Record]]:
    """The records that a field may hold, alone or in a list."""
    if isinstance(annotation, type) and issubclass(annotation, Record):
        return [annotation]
    return [record for inner in typing.get_args(annotation) for record in records_in(inner)]


def _calls_of(field: FieldInfo) -> Calls | None:
    return next((mark for mark in field.metadata if isinstance(mark, Calls)), None)


def _holds_tuple(annotation: Any) -> bool:
    return typing.get_origin(annotation) is tuple or any(map(_holds_tuple, typing.get_args(annotation)))


def _within(record: type[Record], data: Any, where: KeyPath) -> Iterator[Reference]:
    if not isinstance(data, Mapping):
        return
    for key, field in record.model_fields.items():
        value, place = data.get(key), (*where, key)
        calls = _calls_of(field)
        if calls is not None:
            if calls.key is not None and isinstance(value, Mapping):
                value, place = value.get(calls.key), (*place, calls.key)
            if isinstance(value, str | list):
                said = data.get(calls.of_design) if calls.of_design is not None else None
                many = _holds_tuple(field.annotation) and calls.key is None
                yield Reference(place, calls.kind, value, many, said if isinstance(said, str) else None)
        for inner in records_in(field.annotation):
            if isinstance(value, list):
                for number, item in enumerate(value):
                    yield from _within(inner, item, (*place, number))
            else:
                yield from _within(inner, value, place)
