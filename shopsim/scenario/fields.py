"""What the records allow at a place: which keys, of which kind, needed or not."""

from __future__ import annotations

from functools import cache
from typing import Any, get_args, get_origin

from pydantic.fields import FieldInfo

from shopsim.scenario.model import Record, Scenario
from shopsim.scenario.places import KeyPath


def record_in(annotation: Any) -> type[Record] | None:
    """The record that a field's type is, or is a list of, or may be."""
    if isinstance(annotation, type) and issubclass(annotation, Record):
        return annotation
    for part in get_args(annotation):
        found = record_in(part)
        if found is not None:
            return found
    return None


@cache
def _records(record: type[Record]) -> dict[str, type[Record] | None]:
    """The record within each field of a record."""
    return {key: record_in(field.annotation) for key, field in record.model_fields.items()}


def record_at(where: KeyPath) -> type[Record] | None:
    """The record that describes the table at a place, or None where it is not one of ours."""
    record: type[Record] | None = Scenario
    for number, step in enumerate(where):
        if isinstance(step, int):
            if number == 0 or isinstance(where[number - 1], int):
                return None
            continue
        record = _records(record).get(step) if record is not None else None
    return record


def fields_at(where: KeyPath) -> list[str] | None:
    """The keys known in the table at a place; None where any key may stand."""
    record = record_at(where)
    return list(record.model_fields) if record is not None else None


def is_list_at(where: KeyPath) -> bool:
    """Whether a list of records stands at a place."""
    field = field_at(where)
    return field is not None and is_list_of_records(field)


def is_list_of_records(field: FieldInfo) -> bool:
    """Whether a field holds a list of records."""
    if record_in(field.annotation) is None:
        return False
    return any(get_origin(kind) is tuple for kind in (field.annotation, *get_args(field.annotation)))


def field_at(where: KeyPath) -> FieldInfo | None:
    """The field at a place, or None where it is not one of ours."""
    if not where or not isinstance(where[-1], str):
        return None
    record = record_at(where[:-1])
    return record.model_fields.get(where[-1]) if record is not None else None


def marks_of(field: FieldInfo) -> list[Any]:
    """What ``Annotated`` says of a field's value, the outermost first: on the field, then within its type."""
    return [*reversed(field.metadata), *_marks_in(field.annotation)]


def _marks_in(annotation: Any) -> list[Any]:
    own = list(reversed(getattr(annotation, "__metadata__", ())))
    inner = [annotation.__origin__] if own else get_args(annotation)
    return [*own, *(mark for part in inner for mark in _marks_in(part))]
