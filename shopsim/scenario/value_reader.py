"""How a kind of value is read: what its reader says is wrong becomes a fault with rule and mend."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import PlainValidator
from pydantic_core import PydanticCustomError

from shopsim.units import UnitError


def faulty(rule: str, mend: str) -> PydanticCustomError:
    """A fault of a value: the rule it breaks, and one thing to do."""
    return PydanticCustomError("shop_value", "{rule}", {"rule": rule, "mend": mend})


def reader(parse: Callable[[Any], Any]) -> PlainValidator:
    """Reads by ``parse``, whose UnitError is told as a fault."""

    def read(value: Any) -> Any:
        try:
            return parse(value)
        except UnitError as error:
            raise faulty(error.rule, error.mend) from None

    return PlainValidator(read)
