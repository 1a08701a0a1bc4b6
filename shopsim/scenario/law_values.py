"""Laws as a file writes them: low / likely / high, a named law, or logged values."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from shopsim import units
from shopsim.laws import LAW_PARAMETERS, Law, law_name, law_problem
from shopsim.limits import MAX_LOGGED_VALUES
from shopsim.units import UnitError


def read_law(value: Any, one: Callable[[object], list[float]], example: str) -> Law:
    if isinstance(value, Law):
        return value
    if isinstance(value, dict):
        return _read_named_law(value, one, example)
    numbers = one(value)
    if len(numbers) == 1:
        return Law("fixed", (numbers[0],))
    if len(numbers) != 3:
        raise UnitError(
            f'"{value}" is {len(numbers)} numbers', f'write one number, or low / likely / high like "{example}"'
        )
    problem = law_problem("range", tuple(numbers))
    if problem:
        raise UnitError(f'in "{value}" {problem[0]}', problem[1])
    if numbers[0] == numbers[2]:
        return Law("fixed", (numbers[0],))
    return Law("range", (numbers[0], numbers[1], numbers[2]))


def _read_named_law(value: dict[str, Any], one: Callable[[object], list[float]], example: str) -> Law:
    def single(text: object) -> float:
        numbers = one(text)
        if len(numbers) != 1:
            raise UnitError(f'"{text}" is {len(numbers)} numbers where one is wanted', f'write one, like "{example}"')
        return numbers[0]

    given = {str(key): item for key, item in value.items()}
    if "logged" in given and "law" not in given:
        values = given.pop("logged")
        if given:
            raise UnitError(f'"{next(iter(given))}" does not go with logged values', "write { logged = [..] } alone")
        if not isinstance(values, list | tuple) or len(values) > MAX_LOGGED_VALUES:
            raise UnitError("logged is not a list of times", f'write {{ logged = ["{example}", ..] }}')
        numbers = tuple(single(item) for item in values)
        name = "logged"
    else:
        if "law" not in given:
            raise UnitError(
                "the table names no law", f'write "{example}", {{ law = "triangular", .. }} or {{ logged = [..] }}'
            )
        name = law_name(given.pop("law"))
        parameters = LAW_PARAMETERS.get(name)
        if parameters is None or name in ("range", "logged"):
            known = ", ".join(n for n in LAW_PARAMETERS if n not in ("range", "logged"))
            raise UnitError(
                f"{units.say_value(value['law'])} is not a law", f"name one of {known}, or give {{ logged = [..] }}"
            )
        unknown = [key for key in given if key not in parameters]
        missing = [key for key in parameters if key not in given]
        if unknown or missing:
            wrong = f'"{unknown[0]}" is not a number of it' if unknown else f'"{missing[0]}" is missing'
            raise UnitError(f"the law {name}: {wrong}", f"give it {', '.join(parameters)}")
        numbers = tuple(
            _plain_number(given[key]) if key in ("shape", "sigma") else single(given[key]) for key in parameters
        )
    problem = law_problem(name, numbers)
    if problem:
        raise UnitError(*problem)
    return Law(name, numbers)


def _plain_number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e9:
        raise UnitError(f"{units.say_value(value)} is not a plain number", "write a number without quotes, like 2")
    return float(value)


def law_text(law: Law, form: Callable[..., str]) -> Any:
    """What a file would say for this law, read back as the same law; ``form`` prints one number or several."""
    if law.name in ("fixed", "own"):
        return form(law.numbers[0])
    if law.name == "range":
        return form(*law.numbers)
    if law.name == "logged":
        return {"logged": [form(number) for number in law.numbers]}
    said: dict[str, Any] = {"law": law.name}
    for key, number in zip(LAW_PARAMETERS[law.name], law.numbers, strict=True):
        said[key] = number if key in ("shape", "sigma") else form(number)
    return said
