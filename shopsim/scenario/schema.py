"""The JSON Schema of scenario files, for editors that complete and check while one writes."""

from __future__ import annotations

from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from shopsim.scenario.model import Scenario
from shopsim.scenario.source import LISTS, TABLES

_PATH: dict[str, Any] = {
    "type": "string",
    "pattern": r"\.[Tt][Oo][Mm][Ll]$",
    "description": "The name of another TOML file in the same folder that holds this table.",
}


class _Schema(GenerateJsonSchema):
    """pydantic's own, but for defaults, which are written as a file would state them or left out."""

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        inner = self.generate_inner(schema["schema"])
        default = schema.get("default")
        if isinstance(default, bool | int | float | str):
            return {**inner, "default": default} if "$ref" not in inner else inner
        return inner


def scenario_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a scenario file; dates stand in it as text like ``2027-01-08``."""
    schema = Scenario.model_json_schema(schema_generator=_Schema)
    properties = schema["properties"]
    for key in TABLES:
        properties[key] = {**_described(properties[key]), "anyOf": [_bare(properties[key]), _PATH]}
    for key in LISTS:
        items = properties[key]["items"]
        properties[key] = {
            **_described(properties[key]),
            "anyOf": [{"type": "array", "items": {"anyOf": [items, _PATH]}}, _PATH],
        }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A shop, what it makes and for whom",
        **{key: value for key, value in schema.items() if key != "title"},
    }


def _described(schema: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in schema.items() if key == "description"}


def _bare(schema: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in schema.items() if key not in ("description", "title")}
