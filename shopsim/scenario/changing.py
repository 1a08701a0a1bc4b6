"""Values of a scenario changed where they stand: the value alone is read, and only rules that look at it are checked again."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from copy import copy
from functools import cache
from typing import Any, TypeVar, cast

from pydantic import ValidationError, create_model

from shopsim.scenario.check_context import CheckContext
from shopsim.scenario.checks import check_again
from shopsim.scenario.fields import is_list_of_records, record_at, record_in
from shopsim.scenario.model import Record, Scenario
from shopsim.scenario.settings import NO_VALUE, NoSuchPlace, split_place

R = TypeVar("R", bound=Record)

#: The keys by which an item of a list of records is called.
_NAMES = ("name", "design", "kind")


class _NotPlain(Exception):
    """A change is not the setting of one value that can be read, or breaks a rule; it is to be looked at as in a file."""


def change_values(scenario: Scenario, changes: Iterable[tuple[str, Any]]) -> Scenario | None:
    """The scenario with each value set at its place, in order; its other records are shared.

    None where a place is not there, stands in another file or within a value, a value cannot be read, or a rule is
    broken: what is wrong is then to be told by reading the whole as a file is read. The scenario itself breaks no rule.
    """
    changed, places = scenario, []
    try:
        for place, value in changes:
            steps = split_place(place)
            if value is NO_VALUE or (len(steps) == 1 and record_at((str(steps[0]),)) is not None):
                raise _NotPlain  # a whole table may name a file, and comes before all else
            changed = _set(changed, steps, value)
            places.append(tuple(steps))
    except (_NotPlain, NoSuchPlace, ValidationError):
        return None
    return changed if not check_again(CheckContext(changed), places) else None


def _set(record: R, steps: Sequence[str | int], value: Any) -> R:
    """The record with the value set below it."""
    key, rest = str(steps[0]), steps[1:]
    field = type(record).model_fields.get(key) if isinstance(steps[0], str) else None
    if field is None:
        raise _NotPlain
    held = getattr(record, key)
    if not rest:
        if value is None:
            if field.is_required():
                raise _NotPlain
            return record.model_copy(update={key: field.get_default(call_default_factory=True)})
        if isinstance(value, str) and (record_in(field.annotation) is not None or key == "orders"):
            raise _NotPlain  # it names a file
        read: Any = _holder(type(record), key).model_validate({"value": value})
        return record.model_copy(update={key: read.value})
    if isinstance(held, Record):
        return record.model_copy(update={key: _set(held, rest, value)})
    if not is_list_of_records(field) or held == field.get_default() or len(rest) < 2:
        raise _NotPlain
    number = _find_item(held, rest[0])
    items = (*held[:number], _set(held[number], rest[1:], value), *held[number + 1 :])
    return record.model_copy(update={key: items})


def _find_item(items: tuple[Record, ...], step: str | int) -> int:
    """The number of an item that a step of a place means by number or by exact name."""
    if isinstance(step, str) and step.isascii() and step.isdigit():
        step = int(step)
    if isinstance(step, int):
        if step < len(items):
            return step
        raise _NotPlain
    for number, item in enumerate(items):
        if next((getattr(item, key) for key in _NAMES if isinstance(getattr(item, key, None), str)), None) == step:
            return number
    raise _NotPlain


@cache
def _holder(record: type[Record], key: str) -> type[Record]:
    """A record of one field, ``value``, that reads a value as this field of the other record does."""
    field = record.model_fields[key]
    return create_model(f"{record.__name__}_{key}", __base__=Record, value=(cast(Any, field.annotation), copy(field)))
