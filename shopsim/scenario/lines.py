"""Reads TOML text into plain data, and finds the line of every key and list item."""

from __future__ import annotations

import re
import tomllib
from typing import Any

import tree_sitter_toml
from tree_sitter import Language, Node, Parser

from shopsim.scenario.places import Where
from shopsim.scenario.text import TOO_MANY_DOTS, Unreadable

#: Tables within tables that are followed; no scenario needs a tenth of it.
DEEPEST = 32

_AT_LINE = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)\s*$")
_PLAIN_WORDS = {
    "Cannot overwrite a value": ("a key is given twice", "keep one of them"),
    "Cannot mutate immutable namespace": ("a table is added to after it was closed", "write the table in one place"),
    "Unclosed array": ("a list is not closed", "close it with ]"),
    "Expected '=' after a key in a key/value pair": (
        "a key has no = after it",
        'write it as key = value, text in "quotes"',
    ),
    "Expected newline or end of document after a statement": (
        "something stands behind the value",
        "write one key = value on each line, and text in quotes",
    ),
    "Expected ']' at the end of a table declaration": ("a [table] header is not closed", "close it with ]"),
    "Expected ']]' at the end of an array declaration": ("a [[table]] header is not closed", "close it with ]]"),
    "Unterminated string": ("a text is not closed", "close it with the quote it begins with"),
    "Illegal character '\\n'": ("a text is not closed on its line", "close it with the quote it begins with"),
    "Unclosed inline table": ("a { table } is not closed on its line", "close it with }"),
    "Invalid date or datetime": ("a date is not in the calendar", "write a date that exists, like 2027-01-08"),
    "Invalid value": ("a value cannot be read", "put text in quotes, and write a number without a unit"),
    "Invalid statement": ("a line cannot be read", "write key = value, [table] or [[table]]"),
    "Exceeds the limit (4300 digits)": ("a number has thousands of digits", "write a number that a shop can mean"),
    "Unescaped '\\' in a string": ("a backslash stands alone in a text", "write two of them, or use 'single quotes'"),
}


def parse_toml(text: str) -> dict[str, Any]:
    """Plain data of a TOML text; raises Unreadable with the line."""
    deep = TOO_MANY_DOTS.search(text)
    if deep:
        line = text.count("\n", 0, deep.start()) + 1
        raise Unreadable(f"a key of more than {DEEPEST} parts", "write tables within tables less deep", line)
    try:
        data = tomllib.loads(text)
    except RecursionError:
        raise Unreadable("lists or tables are nested too deeply", "write them less deep") from None
    except ValueError as error:
        raise _syntax_fault(str(error), text) from None
    if _too_deep(data):
        raise Unreadable(f"tables are nested more than {DEEPEST} deep", "write them less deep")
    return data


def _syntax_fault(message: str, text: str) -> Unreadable:
    found = _AT_LINE.search(message)
    line = None
    if found:
        line = int(found[1]) if found[1] else text.count("\n") + (not text.endswith("\n"))
        message = message[: found.start()]
        if not found[1] and message in ("Invalid value", "Unclosed array"):
            return Unreadable("the text ends in the middle of a value", "write the value, and close lists with ]", line)
    twice = re.fullmatch(r"Cannot declare \((.*?),?\) twice", message)
    if twice:
        name = ".".join(re.findall(r"'([^']*)'", twice[1]))
        return Unreadable(f"the table [{name}] is given twice", "keep one, or write [[..]] for a list of tables", line)
    for known, (rule, mend) in _PLAIN_WORDS.items():
        if message.startswith(known):
            return Unreadable(rule, mend, line)
    return Unreadable(f"cannot be read as TOML: {message}", "mend this line", line)


def _too_deep(data: dict[str, Any]) -> bool:
    level: list[Any] = [data]
    for _ in range(DEEPEST):
        level = [
            inner
            for item in level
            for inner in (item.values() if isinstance(item, dict) else item)
            if isinstance(inner, dict | list)
        ]
        if not level:
            return False
    return True


def find_lines(text: str) -> dict[Where, int]:
    """The 1-based line of every key and list item of a TOML text that ``parse_toml`` has taken."""
    tree = Parser(Language(tree_sitter_toml.language())).parse(text.encode("utf-8"))
    lines: dict[Where, int] = {}
    table_counts: dict[Where, int] = {}
    here: Where = ()
    # (node, the table it stands in); a stack, so that depth costs no recursion
    todo: list[tuple[Node, Where]] = [(node, ()) for node in reversed(tree.root_node.named_children)]
    while todo:
        node, base = todo.pop()
        if node.type in ("table", "table_array_element"):
            here = _open_table(node, lines, table_counts)
            todo.extend((inner, here) for inner in reversed(node.named_children[1:]))
        elif node.type == "pair":
            where = base
            line = node.start_point.row + 1
            for key in _keys_of(node.named_children[0]):
                where = (*where, key)
                lines.setdefault(where, line)
            todo.extend((inner, where) for inner in node.named_children[1:])
        elif node.type == "inline_table":
            todo.extend((inner, base) for inner in reversed(node.named_children))
        elif node.type == "array":
            items = [inner for inner in node.named_children if inner.type != "comment"]
            for number, inner in enumerate(items):
                lines[(*base, number)] = inner.start_point.row + 1
            todo.extend(((inner, (*base, number)) for number, inner in reversed(list(enumerate(items)))))
    return lines


def _open_table(node: Node, lines: dict[Where, int], table_counts: dict[Where, int]) -> Where:
    where: Where = ()
    line = node.start_point.row + 1
    keys = _keys_of(node.named_children[0])
    for number, key in enumerate(keys):
        where = (*where, key)
        last = number == len(keys) - 1
        if last and node.type == "table_array_element":
            table_counts[where] = table_counts.get(where, 0) + 1
        if last and node.type == "table":
            lines[where] = line
        lines.setdefault(where, line)
        if where in table_counts:
            where = (*where, table_counts[where] - 1)
            lines.setdefault(where, line)
    return where


def _keys_of(node: Node) -> list[str]:
    keys: list[str] = []
    todo = [node]
    while todo:
        part = todo.pop()
        if part.type == "dotted_key":
            todo.extend(reversed(part.named_children))
            continue
        text = (part.text or b"").decode("utf-8")
        if part.type == "quoted_key":
            keys.append(next(iter(tomllib.loads(f"{text} = 0"))))
        else:
            keys.append(text)
    return keys
