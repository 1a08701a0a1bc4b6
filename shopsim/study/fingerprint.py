"""What tells one scenario from another: a hash of all that it says."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from typing import Any

from shopsim.laws import Law
from shopsim.scenario.model import Record, Scenario
from shopsim.scenario.values import OrderBook


def hash_scenario(scenario: Scenario) -> str:
    """SHA-256 (hex) of everything a scenario says, orders of a file included: equal scenarios have equal hashes."""
    text = json.dumps(_canonical(scenario), sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(text.encode()).hexdigest()


def _canonical(value: Any) -> Any:
    if isinstance(value, Record):
        return {name: _canonical(getattr(value, name)) for name in type(value).model_fields}
    if isinstance(value, Law):
        return [value.name, list(value.numbers), "" if value.function is None else _function_text(value.function)]
    if isinstance(value, OrderBook):
        return [
            [
                order.id, order.date.isoformat(), order.minute, order.quantity, order.destination, order.option,
                order.promised.isoformat() if order.promised else None,
            ]
            for order in value.orders
        ]  # fmt: skip
    if isinstance(value, Mapping):
        return {str(key): _canonical(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_canonical(item) for item in value]
    if value is None or isinstance(value, bool | int | float | str):
        return value
    return str(value)


def _function_text(function: Callable[..., Any]) -> str:
    """What tells a user's function from another: its name, its code, its defaults, and the values it closes over."""
    text = [str(getattr(function, "__module__", "")), str(getattr(function, "__qualname__", type(function)))]
    code = getattr(function, "__code__", None)
    if code is not None:
        plain = [const for const in code.co_consts if isinstance(const, bool | int | float | str | tuple)]
        closed = [cell.cell_contents for cell in getattr(function, "__closure__", None) or ()]
        defaults = (getattr(function, "__defaults__", None), getattr(function, "__kwdefaults__", None))
        text += [code.co_code.hex(), repr(code.co_names), repr(plain), repr(closed), repr(defaults)]
    else:
        text.append(repr(function))
    return " ".join(text)
