"""The reference of the file format as text: every table and key, what each means, its default, and an example of it.

``shopsim schema --text`` prints it, and scenarios/README.md is what it prints. It is made from the
records themselves (their descriptions, defaults and examples) and from the columns of the CSV files.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic.fields import FieldInfo

from shopsim.laws import LAW_PARAMETERS
from shopsim.scenario.base_record import Record
from shopsim.scenario.cautions import CAUTIONS, NONE_NEEDED
from shopsim.scenario.day_logs import DAY_COLUMNS
from shopsim.scenario.design import ChangedOperation
from shopsim.scenario.fields import is_list_of_records, record_in
from shopsim.scenario.happenings import RUN_COLUMNS
from shopsim.scenario.log_table import CsvColumns
from shopsim.scenario.logs import TIME_COLUMNS
from shopsim.scenario.model import Operation, Scenario
from shopsim.scenario.orders_file import COLUMNS as ORDER_COLUMNS
from shopsim.scenario.plain import value_text
from shopsim.scenario.shipped_logs import SHIPPED_COLUMNS
from shopsim.scenario.source import LISTS, TABLES

#: The first line, by which a file that holds the reference is known.
TITLE = "# What a scenario file may say"
#: Stands in a description between what a key means and what holds where it is left out.
LEFT_OUT = "; default "

_HOW = f"""\
{TITLE}

This page is made by the program from its own records (`shopsim schema --text`), so it says what this version reads.
A scenario is one text file in TOML: `[heading]` begins a table, `[[heading]]` one row of a list of them, and each other
line is `key = value`. What follows a `#` is a remark for you. Begin with one of the examples beside this page, and
change a line at a time; `shopsim check FILE` tells all faults at once, each with its line and what would mend it.

| example | what it shows |
|---|---|
| `serving-trays.toml` | the shortest whole file: one maker, Saturdays, one kind of clamp |
| `counter-stools.toml` | evenings and a Saturday, parts and sub-assemblies, batches of five; an order book and logs to go with it |
| `wall-cabinets.toml` | a helper, work for two, racks, stations, clamps that are short |

Their numbers are starting values, and each says where it comes from. Clock your own.

## How values are written

| value | how | for example |
|---|---|---|
| a time | a number and its unit: min, h, d | `"12 min"`, `"1.5 h"`, `"3 d"` |
| a time that varies | low / likely / high: one time in ten under the low, one in ten over the high | `"8 / 10 / 16 min"` |
| a named law of it | see below | `{{ law = "exponential", mean = "20 min" }}` |
| times you logged | all of them; one of these is drawn | `{{ logged = ["9 min", "11 min", "14 min"] }}` |
| a length | a number and its unit: in, mm, cm, ft, m | `"24 in"`, `"600 mm"` |
| a share or a chance | in percent; where it varies, low / likely / high | `"4 %"`, `"5 / 10 / 25 %"` |
| a date | year-month-day, or two of them for a range | `2027-01-08`, `"2027-02-15..2027-02-21"` |
| hours | by day or span of days | `{{ mon-fri = "8:00-12:00", sat = "9:00-13:00" }}` |
| names | in brackets; one alone may stand without | `["sand", "oil"]`, `"sand"` |

One number alone does not vary. Laws that can be named, each with what it needs:
{{laws}}.

A table may stand in a file of its own, so that a shop is written once: `shop = "my-shop.toml"`. The file stands in the
scenario's own folder or below it, and the tables for which this goes are
{{tables}}.

Any value can be tried without changing the file: `--set run.batch=6`, `--set 'shop.clamps."bar clamp".count=14'`.

In the tables below, "must be given" stands where there is no default.
"""

_OPTIONS = """\
A design may be sold in options, another wood or colour. The book of orders names them, and each piece is made as its
options say: a key in `change` takes the place of the design's, `add` puts steps in, `drop` takes them out.

```toml
[[design.options]]
name = "walnut, dark"
change = [{ operation = "oil", work = "8 / 12 / 20 min", cure = "4 d" }]
add = [{ name = "stain", after = ["sand"], work = "6 / 10 / 15 min", cure = "12 h" }]
materials = ["walnut boards"]
```
"""
_WAYS = """\
Another way of making it, for the whole run: a jig, another glue, parts finished before the glue-up. `change`, `add` and
`drop` are as for an option, and options apply to what the ways in use make of the design. `ways = ["panel sled"]` in `[run]`
says which are in use; `shopsim ways FILE` compares them. The file must be possible without them as well.

```toml
[[design.ways]]
name = "panel sled"
change = [{ operation = "cut panels", work = "3 / 4 / 6 min" }]
add = [{ name = "make the sled", after = [], before = ["cut panels"], per = "run", work = "1.5 / 2 / 3 h" }]
price = 18.0
```
"""
_NOTES = {
    "[[design.operations]]": "One row a step, in the order in which you do them.\n",
    "[[design.options]]": _OPTIONS,
    "[[design.ways]]": _WAYS,
    "[luck]": "Leave the whole table out for these defaults.\n",
    "[learned]": "Written by `shopsim times --write`: what your logs came to. You seldom write it by hand.\n",
    "[[run.lines]]": "Only where several designs are made in one run; each has its own orders.\n",
}

_BOOKS: tuple[tuple[str, str, CsvColumns], ...] = (
    (
        "The book of orders",
        '`orders = "stool-orders.csv"` in `[run]`. Further columns are passed over and named in a remark.',
        ORDER_COLUMNS,
    ),
    ("Logged task times", "`shopsim times FILE times.csv`: what you clocked, one row a time.", TIME_COLUMNS),
    (
        "Logged days",
        "`shopsim times FILE --days days.csv`: what each open day gave the shop. One column alone says how much.",
        DAY_COLUMNS,
    ),
    ("Orders that have shipped", "`shopsim times FILE --shipped shipped.csv`.", SHIPPED_COLUMNS),
    (
        "The log of a run",
        "Beside `stools.toml` as `stools-run-log.csv` or `run-log.csv`: one row a happening, only ever added to, by `shopsim log`, by "
        'taps on the page "At the bench" of the app, or in a spreadsheet; `shopsim now` and the page "Now" forecast from it. A row that is '
        "wrong is not changed but taken back by a later one. What can be worked out may be left empty.",
        RUN_COLUMNS,
    ),
)


def reference_text() -> str:
    """The whole reference as Markdown, ending in a line break."""
    laws = "; ".join(
        f"{name} ({', '.join(needs)})" for name, needs in LAW_PARAMETERS.items() if needs and name != "range"
    )
    names = ", ".join(f"`{key}`" for key in (*TABLES, *LISTS))
    parts = [_HOW.replace("{laws}", laws).replace("{tables}", names)]
    parts += [_section(header, record) for header, record in sections()]
    parts.append(_cautions())
    parts.append(
        "## CSV files\n\nColumns stand in any order, with commas, semicolons or tabs between them; common other names of a "
        "column\n(qty, order no, ship by) are known. Blank rows are passed over.\n"
    )
    parts += [_book(*book) for book in _BOOKS]
    return "\n".join(parts)


def sections() -> list[tuple[str, type[Record]]]:
    """(heading, record) of every table of a file, in the order in which the reference tells of them."""
    return list(_walk((), Scenario, is_list=False, seen=set()))


def _walk(path: tuple[str, ...], record: type[Record], is_list: bool, seen: set[type[Record]]) -> Iterator[Any]:
    seen.add(record)
    name = ".".join(path)
    yield (f"[[{name}]]" if is_list else f"[{name}]" if path else "The top of the file"), record
    for key, field in own_fields(record).items():
        inner = record_in(field.annotation)
        if inner is not None and inner not in seen:
            yield from _walk((*path, key), inner, is_list_of_records(field), seen)


def own_fields(record: type[Record]) -> dict[str, FieldInfo]:
    """The fields that are a record's own: of what is done in or to an operation, those that no operation has."""
    fields = dict(record.model_fields)
    if record is ChangedOperation or (issubclass(record, Operation) and record is not Operation):
        return {key: field for key, field in fields.items() if key not in Operation.model_fields}
    return fields


def _section(header: str, record: type[Record]) -> str:
    heading = f"## `{header}`" if header.startswith("[") else f"## {header}"
    lines = [heading, "", _one_line(record.__doc__), "", "| key | meaning | default | example |", "|---|---|---|---|"]
    defaults = record.model_construct().model_dump(warnings=False)
    for key, field in own_fields(record).items():
        meaning, _, left_out = str(field.description).removesuffix(".").partition(LEFT_OUT)
        default = left_out or default_text(field, defaults.get(key))
        lines.append(f"| `{key}` | {_cell(meaning)}. | {_cell(default)} | {_cell(_example(key, field))} |")
    if own_fields(record).keys() != record.model_fields.keys():
        lines += ["", _as_an_operation(record)]
    note = _NOTES.get(header)
    return "\n".join([*lines, "", *([note] if note else [])])


def _as_an_operation(record: type[Record]) -> str:
    if record is ChangedOperation:
        return "And every key of an operation but `name`; one that is left out stays as the design has it."
    return "And every key of an operation."


def default_text(field: FieldInfo, value: Any) -> str:
    """What holds where a key is left out: its default as a file would write it, or in words."""
    if field.is_required():
        return "must be given"
    if record_in(field.annotation) is not None:
        return "none" if is_list_of_records(field) else "the defaults of its keys"
    if value is None or value in ((), [], {}):
        return "none"
    return f"`{value_text(value)}`"


def _example(key: str, field: FieldInfo) -> str:
    if field.examples:
        return f"`{key} = {value_text(field.examples[0])}`"
    return "a table of its own, below"


def _cautions() -> str:
    lines = [
        "## Cautions",
        "",
        "Keys that `caution` may name, alone or several in brackets, and what is then printed beside",
    ]
    lines += [
        "the work. A sentence of your own does as well. Where a step's name, station or kind suggests one that it"
    ]
    lines += [f'does not carry, `shopsim check` names it; `"{NONE_NEEDED}"` silences that.', ""]
    lines += ["| key | printed |", "|---|---|", *(f"| `{key}` | {_cell(text)} |" for key, text in CAUTIONS.items())]
    return "\n".join([*lines, ""])


def _book(title: str, said: str, columns: CsvColumns) -> str:
    lines = [f"### {title}", "", said, "", "| column | meaning | default | example |", "|---|---|---|---|"]
    for name, column in columns.items():
        meaning, _, left_out = column.meaning.removesuffix(".").partition(LEFT_OUT)
        default = "must be given" if column.needed else left_out
        lines.append(f"| `{name}` | {_cell(meaning)}. | {_cell(default)} | `{column.example}` |")
    return "\n".join([*lines, ""])


def _one_line(text: str | None) -> str:
    return " ".join((text or "").split())


def _cell(text: str) -> str:
    return text.replace("|", "\\|")
