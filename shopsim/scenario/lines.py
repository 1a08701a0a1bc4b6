"""Reads TOML text into plain data, and finds the line of every key and list item."""

from __future__ import annotations

import tomllib
from typing import Any

import tree_sitter_toml
from tree_sitter import Language, Node, Parser

from shopsim.scenario.places import KeyPath
from shopsim.scenario.syntax import DEEPEST, explain_syntax, find_too_deep
from shopsim.scenario.text import TOO_MANY_DOTS, Unreadable


def parse_toml(text: str) -> dict[str, Any]:
    """Plain data of a TOML text; raises Unreadable with the line."""
    deep = TOO_MANY_DOTS.search(text)
    if deep:
        line = text.count("\n", 0, deep.start()) + 1
        raise Unreadable(f"a key of more than {DEEPEST} parts", "write tables within tables less deep", line)
    try:
        data = tomllib.loads(text)
    except RecursionError:
        raise Unreadable("lists or tables are nested too deeply", "write them less deep", find_too_deep(text)) from None
    except ValueError as error:
        raise explain_syntax(str(error), text) from None
    if _too_deep(data):
        rule = f"lists or tables are nested more than {DEEPEST} deep"
        raise Unreadable(rule, "write them less deep", find_too_deep(text))
    return data


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


def find_lines(text: str) -> dict[KeyPath, int]:
    """The 1-based line of every key and list item of a TOML text that ``parse_toml`` has taken."""
    tree = Parser(Language(tree_sitter_toml.language())).parse(text.encode("utf-8"))
    lines: dict[KeyPath, int] = {}
    table_counts: dict[KeyPath, int] = {}
    here: KeyPath = ()
    # (node, the table it stands in); a stack, so that depth costs no recursion
    todo: list[tuple[Node, KeyPath]] = [(node, ()) for node in reversed(tree.root_node.named_children)]
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


def find_tables(text: str) -> list[tuple[KeyPath, int, int]]:
    """(place, first line, last line) of each table under a [header] of a TOML text that ``parse_toml`` has taken.

    Lines are counted from 0; the last one is that of its last key, so comments below are not of it.
    The place of a row of a list ends in its number.
    """
    tree = Parser(Language(tree_sitter_toml.language())).parse(text.encode("utf-8"))
    lines: dict[KeyPath, int] = {}
    counts: dict[KeyPath, int] = {}
    found = []
    for node in tree.root_node.named_children:
        if node.type in ("table", "table_array_element"):
            parts = [inner for inner in node.named_children if inner.type != "comment"]
            found.append((_open_table(node, lines, counts), node.start_point.row, _last_row(parts[-1])))
    return found


def _last_row(node: Node) -> int:
    """The row of a node's last letter."""
    return node.end_point.row if node.end_point.column > 0 else node.end_point.row - 1


def _open_table(node: Node, lines: dict[KeyPath, int], table_counts: dict[KeyPath, int]) -> KeyPath:
    where: KeyPath = ()
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
