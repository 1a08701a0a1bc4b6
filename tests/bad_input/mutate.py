"""Breaks scenario files and files of orders at random: bytes, letters, lines, numbers, units, keys, splices.

Mutant ``n`` depends on ``n`` and the examples alone, so one that finds a fault can be made again:

    python tests/bad_input/mutate.py 12345          prints mutant 12345
"""

from __future__ import annotations

import random
import re
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

EXAMPLES = Path(__file__).parents[2] / "scenarios"

_NUMBER = re.compile(rb"\d+(?:\.\d+)?")
_UNIT = re.compile(rb'(?<=\d)\s*(?:min|h|d|in|mm|%)(?=["\s/])')
_KEY = re.compile(rb"^(\s*)([A-Za-z_]+)(\s*=)", re.MULTILINE)
_WORD = re.compile(rb"[A-Za-z_]{3,}")
_TEXT = re.compile(rb'"[^"\n]*"')
_VALUE = re.compile(rb"(=\s*)([^#\n]+)")
_HEADER = re.compile(rb"^\s*\[+[^\]\n]*\]+", re.MULTILINE)

#: What is put in place of a number: edges, signs, floods of digits, what is no number.
NUMBERS = (
    b"0", b"1", b"-1", b"2", b"7", b"60", b"100", b"999", b"10000", b"100000", b"100001", b"1e9", b"1e308", b"1e999",
    b"-0.0", b"0.5", b"1e-9", b"inf", b"nan", b"-inf", b"+nan", b"9" * 25, b"9" * 5000, b"0x10", b"1_000", b"1.5e",
    b"\xc2\xbd", b"2147483648", b"9223372036854775808", b"true", b'"5"', b"[]", b"{}", b"2027-01-11",
)  # fmt: skip
UNITS = (b" min", b" h", b" d", b" w", b" s", b" in", b" mm", b" ft", b" %", b"", b" weeks", b" years", b" minuets")
#: Whole values that go in place of another.
VALUES = (
    b'"always"', b"{}", b"[]", b'""', b"true", b"false", b"0", b"-5", b"3.7", b"inf", b"nan", b'"0 min"', b'"10 d"',
    b'"3650 d"', b'"1 / 2 / 3 h"', b'"0 / 5 / 9 min"', b'"0 / 0 / 1 min"', b'"3 / 2 / 1 h"', b'"100 %"', b'"99.9 %"',
    b'"0 %"', b'{ law = "exponential", mean = "20 min" }', b'{ law = "erlang", mean = "9 h", shape = 1000 }',
    b'{ law = "lognormal", median = "1 h", sigma = 5 }', b'{ logged = ["5 min", "900 h"] }', b'{ logged = [] }',
    b"2027-01-11", b"1066-10-14", b"2200-12-31", b'"2027-02-30"', b'"2027-01-01..2199-12-31"', b'"orders.csv"',
    b'"../../etc/passwd"', b'"/dev/zero"', b'"run"', b'"batch"', b'"piece"', b"100000", b"10000", b"1", b'[""]',
    b'{ sun = "00:00-24:00" }', b'{ mon-fri = "08:00-08:01" }', b'{ mon = "23:59-00:01" }', b'["packing"]',
)  # fmt: skip
#: Whole lines that are put in anywhere.
LINES = (
    b"[shop]", b"[run]", b"[luck]", b"[[design.operations]]", b"[[shop.workers]]", b"[[run.lines]]", b"[design.parts]",
    b"bias_spread = 2.0", b"guess_widening = 10.0", b"guess_spread = 3.0", b'release = "as ordered"', b"pieces_open = 1",
    b"orders = 10000", b"batch = 1", b"round_up_to = 100000", b"hands = 0", b"hands = 2", b"dusty = true", b'wet = "2 d"',
    b'cure = "3650 d"', b"pausable = false", b"stays = true", b'handful = "batch"', b'per = "run"', b'per = "batch"',
    b"after = []", b'learning = "50 %"', b'wait_for = "batch"', b'redo = { chance = "100 %", work = "9 h" }', b"# only this",
    b'work = "3650 d"', b'setup = "2 d"', b'unclamp = "3 h"', b'in_clamps = "90 d"', b'priority = "longest tail"',
    b'priority = "nearest done"', b'interrupted = "5 / 90 / 99 %"', b'lost_days = "97 %"', b'open = "always"',
    b'open = { sun = "12:00-12:01" }', b'rest = { rack = "drying rack", spots = 10000 }', b"= 5", b"name", b"'''", b'"""',
    b'parts = { leg = 100000 }', b'title = "\\u0000"', b"count = 0", b"count = 100000", b"spots = 1", b"start = 2200-12-31",
    b'pick_up = ["sat"]', b'packing = "20 d"', b"packing_hands = 2", b'before_packing = "3650 d"', b'late = "100 %"',
    b'lead = "0 / 1 / 999 d"',
)  # fmt: skip

#: Keys with values at the edge of what is allowed, by the last word of the section's header.
KEYS: dict[bytes, tuple[bytes, ...]] = {
    b"operations": (
        b"hands = 0", b"hands = 2", b"dusty = true", b'wet = "2 d"', b'wet = "0 / 0 / 9 min"', b'cure = "3650 d"',
        b'cure = "400 d"', b"pausable = false", b"pausable = true", b"stays = true", b'handful = "batch"', b"handful = 1",
        b'per = "run"', b'per = "batch"', b'per = "piece"', b"after = []", b'learning = "50 %"', b'wait_for = "batch"',
        b'redo = { chance = "100 %", work = "9 h" }', b'redo = { chance = "50 %", work = "1 / 5 / 900 min" }',
        b'work = "3650 d"', b'work = "0 min"', b'work = "1 / 1 / 900 min"', b'work = "300 h"', b'setup = "2 d"',
        b'setup = "1 / 2 / 90 min"', b'unclamp = "3 h"', b'unclamp = "0 min"', b'in_clamps = "90 d"', b'basis = "timed"',
        b'in_clamps = "0 / 5 / 5000 min"', b'work = { law = "lognormal", median = "1 h", sigma = 5 }',
        b'work = { law = "erlang", mean = "9 h", shape = 1000 }', b'cure = { logged = ["5 min", "900 h"] }',
        b'work = { law = "exponential", mean = "90 h" }', b'open_time = "0 min"', b'work = "1e-300 min"',
    ),
    b"run": (
        b"orders = 10000", b"orders = 1", b"orders = 500", b"batch = 1", b"batch = 100000", b"round_up_to = 1000",
        b"pieces_open = 1", b"pieces_open = 100000", b'priority = "longest tail"', b'priority = "nearest done"',
        b'priority = "oldest batch"', b"start = 2200-12-31", b"start = 1990-01-01", b"orders_close = 2200-12-31",
        b"orders_close = 1990-01-01",
    ),
    b"shop": (
        b'interrupted = "5 / 90 / 99 %"', b'interrupted = "0 %"', b'lost_days = "97 %"', b'lost_days = "1 / 50 / 99 %"',
        b'open = "always"', b'open = { sun = "12:00-12:01" }', b'open = { sat = "22:00-22:00" }', b"closed = [2027-01-16]",
        b'open = { mon-sun = "00:00-24:00" }', b'open = { mon-sun = "12:00-12:00" }', b'closed = ["1990-01-01..2200-12-31"]',
        b'closed = ["2027-02-15..2029-02-21"]', b'open = { sat = "23:00-01:00", sun = "01:00-02:00" }',
    ),
    b"workers": (
        b'open = { sun = "12:00-12:01" }', b'open = { mon-sun = "22:00-06:00" }', b"can = []", b'can = ["packing"]',
        b"closed = [2027-01-16]", b'closed = ["1990-01-01..2200-12-31"]',
    ),
    b"stations": (b"count = 1", b"count = 1000", b"count = 0"),
    b"racks": (b"spots = 1", b"spots = 100000"),
    b"clamps": (b"count = 0", b"count = 100000", b"count = 1", b'reach = "0 mm"', b'reach = "100 m"', b"price = 1e6"),
    b"design": (b"parts = { leg = 100000 }", b"parts = {}"),
    b"materials": (b'lead = "0 / 1 / 999 d"', b'rest = "3650 d"', b'late = "100 %"', b"ordered = 2200-12-31", b"on_shelf = true"),
    b"shipping": (
        b'pick_up = ["sat"]', b'packing = "20 d"', b"packing_hands = 2", b'before_packing = "3650 d"',
        b'transit = "0 / 1 / 900 d"', b'pick_up_at = "00:00"', b'packing = "1 / 5 / 900 min"',
    ),
    b"luck": (
        b"bias_spread = 2.0", b"guess_widening = 10.0", b"guess_spread = 3.0", b"pace_spread = 2.0", b"hand_spread = 3.0",
        b"bias = 9.99", b"bias = 0.11", b"machine_spread = 0", b"guess_spread = 0.0", b"timed_widening = 10.0",
    ),
}  # fmt: skip

Change = Callable[[random.Random, bytes, Sequence[bytes]], bytes]


def _put(text: bytes, start: int, end: int, new: bytes) -> bytes:
    return text[:start] + new + text[end:]


def _replace_one(rng: random.Random, text: bytes, pattern: re.Pattern[bytes], group: int, new: bytes) -> bytes:
    found = list(pattern.finditer(text))
    if not found:
        return text + new
    one = rng.choice(found)
    return _put(text, *one.span(group), new)


def change_byte(rng: random.Random, text: bytes, _others: Sequence[bytes]) -> bytes:
    """One byte becomes any other."""
    at = rng.randrange(len(text) + 1)
    return _put(text, at, at + rng.randint(0, 1), bytes([rng.randrange(256)]))


def change_letter(rng: random.Random, text: bytes, _others: Sequence[bytes]) -> bytes:
    """One letter becomes a mark that TOML knows."""
    at = rng.randrange(len(text) + 1)
    return _put(
        text, at, at + rng.randint(0, 1), rng.choice((b'"', b"[", b"]", b"{", b"}", b"=", b".", b"\n", b",", b"#"))
    )


def drop_bytes(rng: random.Random, text: bytes, _others: Sequence[bytes]) -> bytes:
    """Some bytes are lost."""
    at = rng.randrange(len(text) + 1)
    return _put(text, at, at + rng.choice((1, 2, 8, 64, 1024)), b"")


def cut_off(rng: random.Random, text: bytes, _others: Sequence[bytes]) -> bytes:
    """The end is lost."""
    return text[: rng.randrange(len(text) + 1)]


def drop_line(rng: random.Random, text: bytes, _others: Sequence[bytes]) -> bytes:
    """A line is lost."""
    lines = text.splitlines(keepends=True)
    if lines:
        del lines[rng.randrange(len(lines))]
    return b"".join(lines)


def double_lines(rng: random.Random, text: bytes, _others: Sequence[bytes]) -> bytes:
    """Some lines stand twice."""
    lines = text.splitlines(keepends=True)
    at = rng.randrange(len(lines) + 1)
    size = rng.choice((1, 1, 3, 10))
    return b"".join([*lines[: at + size], *lines[at : at + size], *lines[at + size :]])


def swap_lines(rng: random.Random, text: bytes, _others: Sequence[bytes]) -> bytes:
    """Two lines change places."""
    lines = text.splitlines(keepends=True)
    if len(lines) > 1:
        a, b = rng.randrange(len(lines)), rng.randrange(len(lines))
        lines[a], lines[b] = lines[b], lines[a]
    return b"".join(lines)


def put_line(rng: random.Random, text: bytes, _others: Sequence[bytes]) -> bytes:
    """A line of ours stands anywhere."""
    lines = text.splitlines(keepends=True)
    lines.insert(rng.randrange(len(lines) + 1), rng.choice(LINES) + b"\n")
    return b"".join(lines)


def set_key(rng: random.Random, text: bytes, _others: Sequence[bytes]) -> bytes:
    """A key of a section gets a value of ours; another value of it in the section is taken out."""
    lines = text.splitlines(keepends=True)
    headers = [at for at, line in enumerate(lines) if line.startswith(b"[")]
    if not headers:
        return text
    place = rng.randrange(len(headers))
    kind = lines[headers[place]].strip(b"[] \r\n").rsplit(b".", 1)[-1]
    new = rng.choice(KEYS.get(kind) or KEYS[b"operations"])
    end = headers[place + 1] if place + 1 < len(headers) else len(lines)
    key = new.split(b" ", 1)[0]
    kept = [line for line in lines[headers[place] + 1 : end] if line.split(b" ", 1)[0] != key]
    return b"".join([*lines[: headers[place] + 1], new + b"\n", *kept, *lines[end:]])


def change_number(rng: random.Random, text: bytes, _others: Sequence[bytes]) -> bytes:
    """A number becomes another, or something that is none."""
    return _replace_one(rng, text, _NUMBER, 0, rng.choice(NUMBERS))


def scale_number(rng: random.Random, text: bytes, _others: Sequence[bytes]) -> bytes:
    """A number gets more digits, or fewer."""
    found = list(_NUMBER.finditer(text))
    if not found:
        return text
    one = rng.choice(found)
    return _put(text, *one.span(), b"%d" % int(float(one[0]) * rng.choice((0, 0.1, 2, 3, 10, 100, 1000))))


def change_unit(rng: random.Random, text: bytes, _others: Sequence[bytes]) -> bytes:
    """A unit becomes another."""
    return _replace_one(rng, text, _UNIT, 0, rng.choice(UNITS))


def change_key(rng: random.Random, text: bytes, _others: Sequence[bytes]) -> bytes:
    """A key gets the name of another, or a slip of the pen."""
    found = list(_KEY.finditer(text))
    if not found:
        return text
    other = rng.choice(found)[2]
    if rng.random() < 0.5:
        at = rng.randrange(len(other))
        other = other[:at] + rng.choice((b"", b"x", other[at : at + 1] * 2)) + other[at + 1 :]
    return _put(text, *rng.choice(found).span(2), other)


def swap_texts(rng: random.Random, text: bytes, _others: Sequence[bytes]) -> bytes:
    """A text takes the place of another."""
    found = [one[0] for one in _TEXT.finditer(text)]
    return _replace_one(rng, text, _TEXT, 0, rng.choice(found)) if found else text


def change_word(rng: random.Random, text: bytes, others: Sequence[bytes]) -> bytes:
    """A word takes the place of another, from any of the files."""
    words = _WORD.findall(rng.choice(others))
    return _replace_one(rng, text, _WORD, 0, rng.choice(words))


def change_value(rng: random.Random, text: bytes, _others: Sequence[bytes]) -> bytes:
    """A whole value becomes one of ours."""
    return _replace_one(rng, text, _VALUE, 2, rng.choice(VALUES))


def change_header(rng: random.Random, text: bytes, others: Sequence[bytes]) -> bytes:
    """A [header] becomes another."""
    return _replace_one(rng, text, _HEADER, 0, rng.choice(_HEADER.findall(rng.choice(others))))


def splice(rng: random.Random, text: bytes, others: Sequence[bytes]) -> bytes:
    """The beginning of one file goes on with the end of another."""
    other = rng.choice(others).splitlines(keepends=True)
    mine = text.splitlines(keepends=True)
    return b"".join(mine[: rng.randrange(len(mine) + 1)] + other[rng.randrange(len(other) + 1) :])


def insert_block(rng: random.Random, text: bytes, others: Sequence[bytes]) -> bytes:
    """Some lines of one file stand in another."""
    other = rng.choice(others).splitlines(keepends=True)
    mine = text.splitlines(keepends=True)
    at, since = rng.randrange(len(mine) + 1), rng.randrange(len(other) + 1)
    return b"".join([*mine[:at], *other[since : since + rng.randint(1, 12)], *mine[at:]])


def repeat_much(rng: random.Random, text: bytes, _others: Sequence[bytes]) -> bytes:
    """Some line stands hundreds of times, or a mark thousands of times."""
    lines = text.splitlines(keepends=True)
    at = rng.randrange(len(lines) + 1)
    flood = rng.choice((b"[" * 3000, b"{a=" * 200, b"a." * 100 + b"b = 1\n", b'"' * 1000, b"[[shop.stations]]\n" * 500))
    some = b"".join(lines[at : at + 1]) * 300 if rng.random() < 0.5 else flood
    return b"".join([*lines[:at], some, *lines[at:]])


def write_otherwise(rng: random.Random, text: bytes, _others: Sequence[bytes]) -> bytes:
    """A text written another way: encoding, ends of lines, a mark in front."""
    plain = text.decode("utf-8", "replace")
    way = rng.randrange(6)
    if way == 0:
        return plain.encode("utf-16")
    if way == 1:
        return plain.encode("latin-1", "replace") + b"\n# \xe9\n"
    if way == 2:
        return b"\xef\xbb\xbf" + text
    if way == 3:
        return text.replace(b"\n", b"\r\n")
    if way == 4:
        return text.replace(b"\n", b"\r")
    return text.replace(b" ", b"\xc2\xa0", rng.randint(1, 9))


#: Tables that stand in no example, so they are put at the end of some.
LUCK = b"\n[luck]\nbias = 1.2\n"
LEARNED = b"""
[learned]
times = [
    { operation = "sand", units = 2, mean = 0.16, squares = 0.008, times = 2, likely = "20 min", run = "a", log = "a.csv" },
    { operation = "oil", units = 2, mean = 0.06, squares = 0.007, times = 2, likely = "8 min", run = "a", log = "a.csv" },
]
days = [{ days = 3, lost = 1, shares = 2, mean_logit = 1.1, first = 2027-01-11, last = 2027-01-13, log = "days.csv" }]
logs = [{ log = "a.csv", rows = 4, digest = "8cffb0dec7b79546" }]
"""
#: A file of orders for some of them, and the line that names it.
BOOK_NAME = "orders.csv"
BOOK = b'''id,date,quantity,destination,option,promised
anna,2027-01-04,1,near,,2027-03-01
"ben & co, ltd",2027-01-04 09:30,2,far,handles,
carl,2027-01-05,,near,,
dora,2027-01-06,1,,handles,2027-04-15
"emil ""the red""",2027-01-07,3,far,,
'''
_ORDERS = re.compile(rb"^orders = \d+", re.MULTILINE)

#: Each change and how often it comes: those that leave a file readable come most.
CHANGES: tuple[tuple[Change, int], ...] = (
    (change_byte, 4), (change_letter, 3), (drop_bytes, 3), (cut_off, 1), (drop_line, 6), (double_lines, 3),
    (swap_lines, 3), (put_line, 8), (set_key, 60), (change_number, 12), (scale_number, 30), (change_unit, 12),
    (change_key, 6), (swap_texts, 6), (change_word, 5), (change_value, 12), (change_header, 2), (splice, 3),
    (insert_block, 3), (repeat_much, 1), (write_otherwise, 2),
)  # fmt: skip


class Mutant(NamedTuple):
    """A scenario's text, and the files beside it by their names."""

    text: bytes
    beside: Mapping[str, bytes]


def read_examples() -> list[bytes]:
    """The example scenarios in the order of their names, and the sound file of the corpus, which has what they lack."""
    sound = Path(__file__).parent / "files" / "trays.toml"
    return [path.read_bytes() for path in (*sorted(EXAMPLES.glob("*.toml")), sound)]


def mutate(number: int, examples: Sequence[bytes]) -> Mutant:
    """Mutant ``number`` of the examples: one to six changes, most often one or two, in the scenario or in its orders."""
    rng = random.Random(number)
    text = rng.choice(examples)
    if rng.random() < 0.2:
        text += LUCK
    if text == examples[-1] and rng.random() < 0.3:
        text += LEARNED
    book = None
    if rng.random() < 0.15:
        text, book = _ORDERS.sub(f'orders = "{BOOK_NAME}"'.encode(), text), BOOK
    in_book = book is not None and rng.random() < 0.7
    ways, weights = zip(*CHANGES, strict=True)
    for change in rng.choices(ways, weights, k=rng.choice((1, 1, 1, 2, 2, 3, 4, 6))):
        if in_book and book is not None:
            book = change(rng, book, examples)
        else:
            text = change(rng, text, examples)
    return Mutant(text, {} if book is None else {BOOK_NAME: book})


if __name__ == "__main__":
    made = mutate(int(sys.argv[1]), read_examples())
    for mutated in (made.text, *made.beside.values()):
        sys.stdout.buffer.write(mutated)
