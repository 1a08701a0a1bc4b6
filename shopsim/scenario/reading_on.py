"""Reads on past values that are no TOML, so that one slip of the pen does not hide all other faults of a file.

A value that cannot be read is taken for one that is not known: nothing else is said about its place. Where it
cannot be told where such a value ends, reading stops there, as it must.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from typing import Any

from shopsim.scenario.lines import parse_toml
from shopsim.scenario.places import KeyPath
from shopsim.scenario.syntax import explain_value
from shopsim.scenario.text import Unreadable

#: Faults after which nothing more is looked for, characters of a text that is read on, and tries in all.
MAX_FAULTS, MAX_LETTERS, MAX_TRIES = 30, 40_000, 40
#: Stands for a value that could not be read while the rest is.
MARK = "\ue000cannot be read\ue000"

_AT = re.compile(r"\(at line (\d+), column (\d+)\)\s*$")
_KEY = re.compile(r"""(?:^|[{,])[ \t]*(?:[\w.-]+|"[^"\n]*"|'[^'\n]*')(?:[ \t]*\.[ \t]*[\w-]+)*[ \t]*=[ \t]*""")
#: A text, closed or not, a remark, a bracket, a comma.
_TOKEN = re.compile(r"""\"(?:[^"\\]|\\.)*(?:\"|$)|'[^']*(?:'|$)|#.*|[\[\]{},]""")
_COLON = re.compile(r"^([ \t]*[A-Za-z][\w-]*[ \t]*):(?=[ \t])")


def read_on(text: str) -> tuple[str, dict[str, Any] | None, list[Unreadable]]:
    """(the text that could be read, its data, what could not be read): data None where reading had to stop.

    The text has as many lines as the one given. Values that could not be read are MARK.
    """
    found: list[Unreadable] = []
    tries = 0
    while True:
        try:
            return text, parse_toml(text), found
        except Unreadable as error:
            found.append(error)
        if len(found) == MAX_FAULTS or len(text) > MAX_LETTERS or (len(found) == 1 and MARK in text):
            return text, None, found
        at, message = _find_error(text)
        if at is None or text.count("\n", 0, at) + 1 != found[-1].line or "\n" not in text:
            return text, None, found  # where it begins and where it is noticed are not the same line
        for changed, value in _list_changes(text, at, message):
            tries += 1
            then, message = _find_error(changed)
            if not message or (then is not None and len(changed) - then < len(text) - at):
                text, found[-1] = changed, explain_value(found[-1], value)
                break
            if tries >= MAX_TRIES:
                return text, None, found
        else:
            return text, None, found


def find_marks(data: Any, where: KeyPath = ()) -> Iterator[KeyPath]:
    """The places of values that could not be read."""
    if data == MARK:
        yield where
    elif isinstance(data, dict):
        for key, inner in data.items():
            yield from find_marks(inner, (*where, key))
    elif isinstance(data, list):
        for number, inner in enumerate(data):
            yield from find_marks(inner, (*where, number))


def _find_error(text: str) -> tuple[int | None, str]:
    """(the offset at which a text stops being TOML, what is said of it): None where that is its end; "" where it is TOML."""
    try:
        tomllib.loads(text)
    except RecursionError:
        return None, "too deep"
    except ValueError as error:
        at = _AT.search(str(error))
        if at is None:
            return None, str(error)
        lines = text.split("\n")
        return sum(len(line) + 1 for line in lines[: int(at[1]) - 1]) + int(at[2]) - 1, str(error)
    return None, ""


def _list_changes(text: str, at: int, message: str) -> Iterator[tuple[str, str]]:
    """The text with one value in the line of the error taken for unknown, and that value; the likeliest first."""
    first = text.rfind("\n", 0, at) + 1
    last = text.find("\n", at)
    last = len(text) if last < 0 else last
    line = text[first:last]
    twice = message.startswith("Cannot overwrite a value") and not line.lstrip().startswith(("[", "{"))
    if twice or line.lstrip().startswith("//"):  # there already, or meant as a remark
        yield text[:first] + text[last:], ""
        return
    colon = _COLON.match(line)
    if colon:
        yield f"{text[: first + colon.end(1)]}={text[first + colon.end() :]}", ""
    spans = [(first + since, first + until) for since, until in _find_values(line)]
    spans.sort(key=lambda span: (not span[0] <= at <= span[1] + 1, span[1] - span[0]))
    for since, until in spans:
        yield f'{text[:since]}"{MARK}"{text[until:]}', text[since:until]


def _find_values(line: str) -> Iterator[tuple[int, int]]:
    """Where the values of keys on a line begin and end; those that do not end on it are left out."""
    inside = [token.span() for token in _TOKEN.finditer(line) if token[0][0] in "\"'#"]
    for key in _KEY.finditer(line):
        since = key.end()
        if any(begun < since <= ended for begun, ended in inside) and line[since - 1] not in "= \t":
            continue
        depth, until = 0, len(line)
        for token in _TOKEN.finditer(line, since):
            if token[0] in ("[", "{"):
                depth += 1
            elif token[0][0] == "#" or (depth == 0 and token[0] in ("]", "}", ",") and key.start() > 0):
                until = token.start()
                break
            elif token[0] in ("]", "}"):
                depth -= 1
        until = since + len(line[since:until].rstrip())
        if depth == 0 and until > since and not line.startswith(('"""', "'''"), since):
            yield since, until
