"""What a maker may start from: the examples that come with the program, or a blank scenario."""

from __future__ import annotations

import datetime as dt
from importlib.resources import files

#: The examples by file name, with what each shows.
EXAMPLES = {
    "counter-stools.toml": "Counter stools: twenty by one maker, in batches of five, on two evenings and Saturdays",
    "serving-trays.toml": "Serving trays: eight, in a short file that says only what is needed",
    "wall-cabinets.toml": "Wall cabinets: twelve by a maker and a helper, where clamps and the drying rack are short",
}
BLANK_NAME = "my-scenario.toml"

_BLANK = """\
title = "My run"

[shop]
open = {{ mon-fri = "09:00-12:00, 13:00-17:00" }}
interrupted = "5 / 10 / 25 %"

[[shop.workers]]
name = "maker"

[[shop.stations]]
name = "bench"

[design]
name = "my piece"

[[design.operations]]
name = "first operation"
station = "bench"
work = "20 / 30 / 50 min"

[run]
orders = 5
batch = 5
start = {monday}
"""


def example_text(name: str) -> str:
    """The text of an example by its file name."""
    return (files("shopsim.app") / "examples" / name).read_text(encoding="utf-8")


def blank_text(today: dt.date) -> str:
    """A scenario with one of everything that is needed, starting on the Monday after a day."""
    return _BLANK.format(monday=today + dt.timedelta(days=7 - today.weekday()))
