"""Puts the faults of single fields into words: the rule that is broken, with the value got, and what mends it."""

from __future__ import annotations

from typing import Any, get_args

from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from shopsim.scenario.fields import is_list_at
from shopsim.scenario.places import KeyPath, NameSuggester, say_names, say_value

_EXAMPLES: dict[str, str] = {
    "shop": 'add a [shop] table with its hours, or shop = "my-shop.toml"',
    "run": "add a [run] table with orders and start",
    "open": 'add open = { sat = "08:30-12:30" }, or open = "always"',
    "name": 'add name = "…"',
    "spots": "add spots = 10, for instance",
    "count": "add count = 10, for instance",
    "chance": 'add chance = "3 %", for instance',
    "work": 'add work = "10 min", for instance',
    "operations": "add [[design.operations]], one for each step",
    "needed_by": 'add needed_by = ["…"], the operations that need it',
    "design": "add design = the name of one of the designs",
    "orders": "add orders = 10, for instance",
    "part": "add part = the name of one of the parts",
    "wood": "add wood = the name of one of the materials",
    "material": "add material = the name of one of the materials",
    "amount": "add amount = 1, for instance",
    **dict.fromkeys(("thickness", "width", "length"), 'add it with its unit, like "600 mm"'),
}


def say_missing(where: KeyPath) -> tuple[str, str]:
    """(rule, mend) for a needed key that is not there."""
    key = str(where[-1])
    mend = _EXAMPLES.get(key, f"add {key} = …")
    if key == "operations" and where[0] == "designs":
        mend = mend.replace("design.operations", "designs.operations")
    return "is missing", mend


def say_error(detail: ErrorDetails, entry: FieldInfo | None, suggester: NameSuggester) -> tuple[str, str]:
    """(rule, mend) for one error of pydantic; ``entry`` is the field it is about."""
    kind = detail["type"]
    got = say_value(detail.get("input"))
    context: dict[str, Any] = detail.get("ctx") or {}
    where: KeyPath = tuple(detail["loc"])
    if kind == "shop_value":
        return str(context["rule"]), str(context["mend"])
    if kind == "literal_error":
        return _say_choice(detail.get("input"), entry, suggester)
    if kind in ("string_type",):
        return f"{got} is not text", 'write it in "quotes"'
    if kind == "string_too_short":
        return "is blank", "write a name"
    if kind == "string_too_long":
        return "is too long a text", f"write at most {context['max_length']} characters"
    if kind in ("int_type", "int_from_float", "int_parsing", "int_parsing_size"):
        return f"{got} is not a whole number", "write a whole number without quotes, like 3"
    if kind in ("float_type", "float_parsing", "finite_number"):
        return f"{got} is not a number", "write a number without quotes, like 1.5"
    if kind in ("bool_type", "bool_parsing"):
        return f"{got} is neither true nor false", "write true or false, without quotes"
    if kind in ("greater_than_equal", "greater_than"):
        return _say_bound(
            got, "less than" if kind == "greater_than_equal" else "not more than", _first(context), "more"
        )
    if kind in ("less_than_equal", "less_than"):
        return _say_bound(got, "more than" if kind == "less_than_equal" else "not less than", _first(context), "less")
    if kind == "too_long":
        return f"holds more than {context['max_length']:,}", "leave out what is not needed"
    if kind in ("tuple_type", "list_type"):
        if is_list_at(where):
            shown = ".".join(str(step) for step in where if isinstance(step, str))
            return f"{got} is not a list of tables", f"write [[{shown}]] above each"
        return f"{got} is not a list", "write it in brackets, like [..]"
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        header = f"[[{_header(where)}]]" if where and isinstance(where[-1], int) else f"[{_header(where)}]"
        return f"{got} is not a table", f"write {header} above its keys, or {{ key = value }}"
    return f"{got} cannot be read here: {detail['msg'].lower()}", "look at one of the examples"


def _header(where: KeyPath) -> str:
    return ".".join(str(step) for step in where if isinstance(step, str))


def _first(context: dict[str, Any]) -> Any:
    return next(iter(context.values()), 0)


def _say_bound(got: str, relation: str, bound: Any, way: str) -> tuple[str, str]:
    number = (
        f"{bound:g}"
        if isinstance(bound, float)
        else f"{bound:,}"
        if isinstance(bound, int) and bound > 9999
        else f"{bound}"
    )
    if relation.startswith("not"):
        return f"{got} is {relation} {number}", f"write {way} than {number}"
    return f"{got} is {relation} {number}", f"write {number} or {way}"


def _say_choice(got: Any, entry: FieldInfo | None, suggester: NameSuggester) -> tuple[str, str]:
    choices = [choice for choice in _choices(entry.annotation if entry else None) if isinstance(choice, str)]
    near = suggester.nearest(got, choices)
    if len(choices) == 1:
        return f"{say_value(got)} is not what may stand here", f'write "{choices[0]}", or leave it out'
    rule = f"{say_value(got)} is not one of {say_names(choices)}"
    return rule, f'write "{near}"' if near else "write one of them"


def _choices(annotation: Any) -> list[Any]:
    found: list[Any] = []
    for part in get_args(annotation):
        found.extend(_choices(part) if get_args(part) else [part])
    return found
