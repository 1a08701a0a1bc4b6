"""What values look like in a file, as pieces of JSON Schema."""

from __future__ import annotations

from typing import Any

from shopsim.dates import DAY_NAMES
from shopsim.limits import MAX_CAUTION_LETTERS, MAX_CAUTIONS
from shopsim.scenario.cautions import CAUTIONS, NONE_NEEDED

_NUMBER = r"\+?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?"
_TIME = rf"{_NUMBER}\s*[A-Za-z]+"
_MAYBE = rf"\s*{_NUMBER}\s*[A-Za-z]*\s*"
_DATE = r"[0-9]{4}-[0-9]{2}-[0-9]{2}"
_CLOCK = r"[0-9]{1,2}:[0-9]{2}"
_STRETCH = rf"\s*{_CLOCK}\s*-\s*{_CLOCK}\s*"
_DAY = "(" + "|".join("".join(f"[{letter}{letter.upper()}]" for letter in day) for day in DAY_NAMES) + ")"


def _text(pattern: str, description: str) -> dict[str, Any]:
    return {"type": "string", "pattern": f"^{pattern}$", "description": description}


ONE_TIME = _text(rf"\s*{_TIME}\s*", 'One time with its unit, like "10 min".')
LOGGED_ROW = _text(
    r"(.*\S\s*:)?\s*[0-9]+(\.[0-9]+)?(e-?[0-9]+)?(\s+for\s+[0-9]{1,5})?\s*",
    'A logged time as piece: minutes, like "1: 44", or "1: 98 for 2" where the minutes are for 2 units.',
)
LENGTH = _text(rf"\s*{_NUMBER}\s*([A-Za-z]+|\")\s*", 'A length with its unit, like "24 in" or "600 mm".')
SHARE = _text(rf"\s*{_NUMBER}\s*%\s*", 'A share in percent, like "4 %".')
SHARES = _text(
    rf"(\s*{_NUMBER}\s*%?\s*/\s*{_NUMBER}\s*%?\s*/)?\s*{_NUMBER}\s*%\s*", 'A share: "4 %" or "5 / 10 / 25 %".'
)
_WHOLE = r"\+?[0-9]{1,5}"
COUNTS: dict[str, Any] = {
    "description": 'A whole number, or low / likely / high like "9 / 18 / 36".',
    "anyOf": [
        {"type": "integer", "minimum": 0, "maximum": 10_000},
        {"type": "string", "pattern": rf"^\s*({_WHOLE}\s*/\s*{_WHOLE}\s*/\s*)?{_WHOLE}\s*$"},
        {"type": "object", "properties": {"law": {"type": "string"}}},
    ],
}
DATE = _text(rf"\s*{_DATE}\s*", "A date, like 2027-01-08.")
MOMENT = _text(rf"\s*{_DATE}([ T]\s*{_CLOCK}(:00)?)?\s*", "A day, or a day and a time of day: 2027-01-19 18:00.")
DAYS_OFF = _text(rf"\s*{_DATE}\s*(\.\.\s*{_DATE}\s*)?", 'A date, or a range of dates: "2027-02-15..2027-02-21".')
CLOCK = _text(rf"\s*{_CLOCK}(:[0-9]{{2}})?\s*", 'A time of day, like "16:00".')

_LAWS: dict[tuple[str, ...], tuple[str, ...]] = {
    ("fixed",): ("value",),
    ("exponential",): ("mean",),
    ("erlang", "Erlang"): ("mean", "shape"),
    ("lognormal",): ("median", "sigma"),
    ("triangular",): ("low", "likely", "high"),
    ("beta-pert", "beta-PERT", "Beta-PERT"): ("low", "likely", "high"),
}


def _named_law(spellings: tuple[str, ...], parameters: tuple[str, ...]) -> dict[str, Any]:
    number: dict[str, Any] = {"type": "number", "minimum": 0}
    return {
        "type": "object",
        "properties": {
            "law": {"enum": list(spellings)},
            **{key: number if key in ("shape", "sigma") else ONE_TIME for key in parameters},
        },
        "required": ["law", *parameters],
        "additionalProperties": False,
    }


#: A time that may vary. Stands once in the schema (SHARED), and is pointed to from elsewhere.
TIME_LAW: dict[str, Any] = {
    "description": (
        'A time with its unit ("12 min", "1.5 h", "3 d"), low / likely / high ("8 / 10 / 16 min"), '
        'a named law ({ law = "exponential", mean = "20 min" }) or times that were logged ({ logged = ["9 min", ..] }).'
    ),
    "anyOf": [
        {"type": "string", "pattern": rf"^({_MAYBE}/{_MAYBE}/)?\s*{_TIME}\s*$"},
        *(_named_law(spellings, parameters) for spellings, parameters in _LAWS.items()),
        {
            "type": "object",
            "properties": {"logged": {"type": "array", "items": ONE_TIME, "minItems": 1}},
            "required": ["logged"],
            "additionalProperties": False,
        },
    ],
}
TIME_LAW_NAME = "TimeLaw"
#: Becomes a pointer when the schema is put together; pydantic would look for its target too early.
TIME_LAW_MARK: dict[str, Any] = {"$comment": TIME_LAW_NAME}

OPEN: dict[str, Any] = {
    "description": (
        'Hours by day, like { sat = "08:30-12:30, 13:30-17:30" } or { mon-fri = "8:00-12:00" }; or "always".'
    ),
    "anyOf": [
        {"const": "always"},
        {
            "type": "object",
            "propertyNames": {"pattern": rf"^\s*{_DAY}(-{_DAY})?\s*$"},
            "additionalProperties": {"type": "string", "pattern": rf"^\s*({_STRETCH}(,{_STRETCH})*)?$"},
        },
    ],
}
WEEKDAYS: dict[str, Any] = {
    "description": 'Days, like ["tue", "fri"] or "mon-fri".',
    "anyOf": [
        {"type": "string", "pattern": rf"^\s*{_DAY}(-{_DAY})?\s*$"},
        {"type": "array", "items": {"type": "string", "pattern": rf"^\s*{_DAY}(-{_DAY})?\s*$"}, "minItems": 1},
    ],
}
NAMES: dict[str, Any] = {"anyOf": [{"type": "array", "items": {"type": "string"}}, {"type": "string"}]}
CAUTION: dict[str, Any] = {
    "description": (
        f"A caution, by its key or in words of your own: {', '.join(CAUTIONS)}. "
        f'"{NONE_NEEDED}": no others are suggested.'
    ),
    "anyOf": [
        {"enum": [*CAUTIONS, NONE_NEEDED]},
        {"type": "string", "pattern": r"\S", "maxLength": MAX_CAUTION_LETTERS},
    ],
}
CAUTION_NAME = "Caution"
CAUTION_MARK: dict[str, Any] = {"$comment": CAUTION_NAME}
ONE_OR_MORE_CAUTIONS: dict[str, Any] = {
    "anyOf": [CAUTION_MARK, {"type": "array", "items": CAUTION_MARK, "maxItems": MAX_CAUTIONS, "uniqueItems": True}]
}
#: What stands once in the schema, by its name there.
SHARED: dict[str, dict[str, Any]] = {TIME_LAW_NAME: TIME_LAW, CAUTION_NAME: CAUTION}
HANDFUL: dict[str, Any] = {"anyOf": [{"type": "integer", "minimum": 1, "maximum": 10_000}, {"const": "batch"}]}
REST: dict[str, Any] = {
    "anyOf": [
        {"type": "string", "minLength": 1},
        {
            "type": "object",
            "properties": {
                "rack": {"type": "string", "description": "Name of the rack."},
                "spots": {"type": "integer", "minimum": 1, "description": "Spots that one unit fills."},
            },
            "required": ["rack"],
            "additionalProperties": False,
        },
    ]
}
ORDERS: dict[str, Any] = {
    "anyOf": [
        {"type": "integer", "minimum": 1, "maximum": 10_000},
        {"type": "string", "pattern": r"\.[Cc][Ss][Vv]$"},
    ]
}
TRANSIT: dict[str, Any] = {
    "anyOf": [TIME_LAW_MARK, {"type": "object", "additionalProperties": TIME_LAW_MARK, "minProperties": 1}]
}
