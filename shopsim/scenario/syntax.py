"""Says in plain words, and at the right line, what keeps a text from being TOML."""

from __future__ import annotations

import re
from collections.abc import Iterator

from shopsim.scenario.text import Unreadable
from shopsim.units import clean

#: Tables within tables that are followed; no scenario needs a tenth of it.
DEEPEST = 32
#: The longest number that is read, in digits.
_MAX_DIGITS = 4300

_AT_LINE = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)\s*$")
_QUOTES = 'write it as key = value, text in "quotes"'
_PLAIN_WORDS = {
    "Cannot mutate immutable namespace": ("a table is added to after it was closed", "write the table in one place"),
    "Unclosed array": ("a list is not closed", "close it with ]"),
    "Expected '=' after a key in a key/value pair": ("a key has no = after it", _QUOTES),
    "Expected newline or end of document after a statement": (
        "something stands behind the value",
        "write one key = value on each line, and text in quotes",
    ),
    "Expected ']' at the end of a table declaration": ("a [table] header is not closed", "close it with ]"),
    "Expected ']]' at the end of an array declaration": ("a [[table]] header is not closed", "close it with ]]"),
    "Unterminated string": ("a text is not closed", "close it with the quote it begins with"),
    "Illegal character '\\n'": ("a text is not closed on its line", "close it with the quote it begins with"),
    "Illegal character": ("a control character stands in the text", "take it out; within a text write it as \\u0007"),
    "Unclosed inline table": ("a { table } is not closed on its line", "close it with }"),
    "Duplicate inline table key": ("a key is given twice in one { table }", "keep one of them"),
    "Invalid date or datetime": ("a date is not in the calendar", "write a date that exists, like 2027-01-08"),
    "Invalid value": ("a value cannot be read", "put text in quotes, and write a number without a unit"),
    "Invalid initial character for a key part": ("a key begins with a sign", "put the key in quotes, or take it out"),
    "Invalid statement": ("a line cannot be read", "write key = value, [table] or [[table]]"),
    "Unescaped '\\' in a string": ("a backslash stands alone in a text", "write two of them, or use 'single quotes'"),
}

_SLIPS: tuple[tuple[re.Pattern[str], str, str], ...] = tuple(
    (re.compile(pattern), rule, mend)
    for pattern, rule, mend in (
        (r"(?:<{7}|={7}|>{7})", "two versions were merged, and it was left half done", "keep one, and take the marks out"),
        (r"//", "a remark begins with //", "begin it with #"),
        (r"[^#]*[“”„‟«»]", "the quotes are curly", 'write them straight, like "this"'),
        (r"([A-Za-z][\w-]*)\s*:\s*\S", "a colon stands where an = belongs", "write {1} = …"),
        (r"([A-Za-z][\w-]*)((?:[ \t]+[A-Za-z][\w-]*)+)\s*=", 'the key "{1}{2}" has a blank in it', "write it without"),
        (r"[^=]*=\s*(?:#.*)?$", "no value stands after the =", "write one, or take the line out"),
        (r"[^=]*=\s*([0-9]+),([0-9]+)\s*(?:#.*)?$", "{1},{2} has a comma in it", "write it with a point, like {1}.{2}"),
        (
            r"[^=]*=\s*([0-9]{4}-[0-9]{1,2}-[0-9]{1,2})\s*(?:#.*)?$",
            "{1} is not a date in the calendar",
            "write a date that exists, like 2027-01-08",
        ),
        (r"[^=]*=\s*0+([1-9][0-9]*)\s*(?:#.*)?$", "a number begins with 0", "write {1}"),
        (r"[^=]*=\s*(?:True|TRUE|Yes|yes|YES)\s*(?:#.*)?$", "true is not written so", "write true"),
        (r"[^=]*=\s*(?:False|FALSE|No|no|NO)\s*(?:#.*)?$", "false is not written so", "write false"),
        (
            r"[^=]*=\s*([0-9][0-9./ ]*[A-Za-z%]+)\s*(?:#.*)?$",
            "{1} is not in quotes, as every value with a unit is",
            'write "{1}"',
        ),
        (r"[^=]*=\s*([A-Za-z][\w ./-]*?)\s*(?:#.*)?$", "{1} is text and not in quotes", 'write "{1}"'),
    )
)  # fmt: skip
#: Faults of a line about which a closer look may say more.
_MAX_LOOKED_AT = 300
_LOOKED_AT = ("Invalid value", "Expected newline", "Expected '='", "Invalid statement", "Invalid date", "Illegal char")

#: Texts, also those that are not closed, and remarks, so that what is left are brackets; reads on without looking back.
_TOKEN = re.compile(
    r'"""(?:[^\\]|\\(?:.|\Z))*?(?:"""|\Z)'
    r"|\'\'\'.*?(?:\'\'\'|\Z)"
    r'|"(?:[^"\\\n]|\\(?:.|\Z))*(?:"|(?=\n)|\Z)'
    r"|'[^'\n]*(?:'|(?=\n)|\Z)"
    r"|#[^\n]*|[\[\]{}]",
    re.DOTALL,
)


def explain_syntax(message: str, text: str) -> Unreadable:
    """What the reader of TOML said of a text, as a maker can use it: rule, mend and line."""
    found = _AT_LINE.search(message)
    line = None
    if found:
        line = int(found[1]) if found[1] else text.count("\n") + (not text.endswith("\n"))
        message = message[: found.start()]
    if "\r" in text and "\n" not in text:
        rule = "the lines end as on very old machines, with a carriage return alone"
        return Unreadable(rule, "save it again with ordinary line ends", 1)
    if message.startswith("Exceeds the limit"):
        long = re.search(rf"[0-9_]{{{_MAX_DIGITS + 1}}}", text)
        line = _line_at(text, long.start()) if long else line
        return Unreadable("a number has thousands of digits", "write a number that a shop can mean", line)
    here = text.split("\n")[line - 1].strip() if line else ""
    if line == 1 or here == text.strip().split("\n")[0].strip():
        other = _other_kind(here)
        if other is not None:
            return Unreadable(other, "name a file in TOML; the examples show what one looks like", line)
    at_end = found is not None and not found[1]
    in_list = message == "Invalid value" and here.startswith("[")  # a header where a list should go on
    if message == "Unclosed array" or in_list or (at_end and message == "Invalid value"):
        opened = _open_bracket(text, line)
        if opened is not None:
            return Unreadable("a list is not closed", "close it with ]", opened)
    if at_end and message == "Invalid value" and not here.endswith("="):
        return Unreadable("the text ends in the middle of a value", "write the value, and close lists with ]", line)
    if at_end and message == "Unterminated string":
        begun = max(text.rfind('"""'), text.rfind("'''"))
        return Unreadable(*_PLAIN_WORDS[message], _line_at(text, begun) if begun >= 0 else line)
    twice = re.fullmatch(r"Cannot declare \((.*?),?\) twice", message)
    if twice:
        name = ".".join(re.findall(r"'([^']*)'", twice[1]))
        return Unreadable(f"the table [{name}] is given twice", "keep one, or write [[..]] for a list of tables", line)
    if message.startswith("Cannot overwrite a value"):
        return _given_twice(here, line)
    if message.startswith(_LOOKED_AT) and len(here) <= _MAX_LOOKED_AT:
        for pattern, rule, mend in _SLIPS:
            slip = pattern.match(here)
            if slip:
                return Unreadable(_fill(rule, slip), _fill(mend, slip), line)
    for known, (rule, mend) in _PLAIN_WORDS.items():
        if message.startswith(known):
            return Unreadable(rule, mend, line)
    return Unreadable(f"cannot be read as TOML: {clean(message, 200)}", "mend this line", line)


def explain_value(error: Unreadable, value: str) -> Unreadable:
    """What keeps a { table } on one line from being TOML, once it is known which value in it is the trouble."""
    if error.rule != _PLAIN_WORDS["Unclosed inline table"][0]:
        return error
    for pattern, rule, mend in _SLIPS:
        slip = pattern.match(f"= {value}")
        if slip:
            return Unreadable(_fill(rule, slip), _fill(mend, slip), error.line)
    if re.fullmatch(r"[\w :./%-]{1,60}", value):
        return Unreadable(f"{value} is not in quotes", f'write "{value}"', error.line)
    return error


def _fill(words: str, slip: re.Match[str]) -> str:
    for number, group in enumerate(slip.groups(), start=1):
        words = words.replace(f"{{{number}}}", clean(group or "", 60))
    return words


def _given_twice(here: str, line: int | None) -> Unreadable:
    if here.startswith("["):
        header = clean(here.split("#")[0].strip(), 80)
        return Unreadable(
            f"the name in {header} is taken already", "keep one; [[..]] is for lists of tables alone", line
        )
    key = re.match(r"""([\w.-]+|"[^"]*"|'[^']*')\s*=""", here)
    name = f'"{clean(key[1], 60)}"' if key else "a key"
    return Unreadable(f"{name} is given twice", "keep one of them", line)


def _other_kind(first: str) -> str | None:
    """What a file is that begins with such a line, if it is plainly no TOML."""
    if first.startswith("<"):
        return "looks like a web page, not like a scenario"
    if first.startswith(("{", '"')) and "=" not in first:
        return "looks like JSON, not like a scenario"
    if "=" not in first and not first.startswith(("[", "#")) and first.count(",") + first.count(";") >= 1:
        return "looks like a table of a spreadsheet, not like a scenario"
    return None


def _line_at(text: str, offset: int) -> int:
    return text.count("\n", 0, offset) + 1


def _brackets(text: str) -> Iterator[tuple[int, str]]:
    """(offset, bracket) of every bracket that stands neither in a text nor in a remark."""
    for token in _TOKEN.finditer(text):
        if token[0] in ("[", "]", "{", "}"):
            yield token.start(), token[0]


def _open_bracket(text: str, until_line: int | None) -> int | None:
    """The line of the innermost [ that is still open where a line begins; None where there is none."""
    end = len(text)
    if until_line is not None:
        end = len("\n".join(text.split("\n")[:until_line]))
    opened: list[tuple[int, str]] = []
    for offset, bracket in _brackets(text[:end]):
        if bracket in "[{":
            opened.append((offset, bracket))
        elif opened:
            opened.pop()
    lists = [offset for offset, bracket in opened if bracket == "["]
    return _line_at(text, lists[-1]) if lists else None


def find_too_deep(text: str) -> int | None:
    """The line at which brackets are nested too deeply, None where they are not."""
    depth = 0
    for offset, bracket in _brackets(text):
        depth += 1 if bracket in "[{" else -1
        if depth > DEEPEST:
            return _line_at(text, offset)
    return None
