"""The base of every record of a scenario, and the kinds of field most of them have."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

Name = Annotated[str, Field(min_length=1, max_length=120)]
Count = Annotated[int, Field(ge=1, le=100_000)]


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
