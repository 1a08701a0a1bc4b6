"""The base of every record of a scenario, and the kinds of field most of them have."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError

#: Kinds of letters that are none: they steer a screen, or end a line.
_CONTROL = ("Cc", "Zl", "Zp")


def has_control_letter(text: str) -> bool:
    """Whether a text holds a line break, a tab or another letter that cannot be seen and steers the screen."""
    return not text.isprintable() and any(unicodedata.category(letter) in _CONTROL for letter in text)


def _one_line(text: str) -> str:
    if has_control_letter(text):
        rule = "holds a line break or another control character"
        raise PydanticCustomError("shop_value", "{rule}", {"rule": rule, "mend": "write plain letters on one line"})
    return text


#: Put behind a text's other bounds: it is on one line, without control characters.
ON_ONE_LINE = AfterValidator(_one_line)
Name = Annotated[str, Field(min_length=1, max_length=120), ON_ONE_LINE]
Count = Annotated[int, Field(ge=1, le=100_000)]


@dataclass(frozen=True)
class Calls:
    """Marks a field, in ``Annotated``, whose value calls things of a kind by their names, so that it follows when one is renamed.

    ``kind``: the key of the list in which they stand; ``key``: where the field may be a table, the key of the name in it;
    ``of_design``: the field beside it that says which design's thing is meant.
    """

    kind: str
    key: str | None = None
    of_design: str | None = None


@dataclass(frozen=True)
class Group:
    """Marks a field, in ``Annotated``, with the group of columns in which a table shows it."""

    title: str


class Record(BaseModel):
    """Base of every record: strict, frozen, no unknown keys."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        strict=True,
        allow_inf_nan=False,
        validate_default=False,
        arbitrary_types_allowed=True,
    )
