"""The JSON Schema of scenario files, for editors that complete and check while one writes."""

from __future__ import annotations

from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from shopsim.scenario.model import Scenario
from shopsim.scenario.shapes import SHARED
from shopsim.scenario.source import LISTS, TABLES

_PATH: dict[str, Any] = {
    "type": "string",
    "pattern": r"\.[Tt][Oo][Mm][Ll]$",
    "description": "The name of another TOML file in the scenario's folder that holds this table.",
}
_KINDS: dict[str, type | tuple[type, ...]] = {"string": str, "integer": int, "number": (int, float), "boolean": bool}


class _Schema(GenerateJsonSchema):
    """pydantic's own, but for defaults: only those that a file would state in the same way are named."""

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        inner = self.generate_inner(schema["schema"])
        default = schema.get("default")
        kind = _KINDS.get(str(inner.get("type")))
        if kind is not None and isinstance(default, kind) and "pattern" not in inner:
            return {**inner, "default": default}
        return inner


def scenario_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a scenario file; dates stand in it as text like ``2027-01-08``.

    It knows every key and the form of every value; rules across fields, such
    as clamps needed against clamps owned, are left to ``read_scenario``.
    """
    made = Scenario.model_json_schema(schema_generator=_Schema)
    made["$defs"].update(SHARED)
    schema = _tidy(made)
    properties = schema["properties"]
    for key in TABLES:
        properties[key] = _or_path(properties[key])
    for key in LISTS:
        properties[key]["items"] = _or_path(properties[key]["items"])
        properties[key] = _or_path(properties[key])
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A shop, what it makes and for whom",
        **schema,
    }


def _or_path(schema: dict[str, Any]) -> dict[str, Any]:
    described = {key: value for key, value in schema.items() if key == "description"}
    return {**described, "anyOf": [{key: value for key, value in schema.items() if key not in described}, _PATH]}


def _tidy(schema: Any) -> Any:
    """A schema without what TOML has no use for: titles made from names, and null among the choices."""
    if isinstance(schema, list):
        return [_tidy(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    if schema.get("$comment") in SHARED:
        schema = {"$ref": f"#/$defs/{schema['$comment']}", **{k: v for k, v in schema.items() if k != "$comment"}}
    tidy: dict[str, Any] = {}
    for key, value in schema.items():
        if key in ("properties", "$defs"):
            tidy[key] = {name: _tidy(item) for name, item in value.items()}
        elif key == "anyOf":
            choices = [_tidy(item) for item in value if item != {"type": "null"}]
            if len(choices) == 1:
                tidy = {**choices[0], **tidy}
            else:
                tidy[key] = choices
        elif key != "title" and not (key == "default" and value is None):
            tidy[key] = _tidy(value)
    return tidy
