"""What the pages call the tables and fields of a scenario, and a fault's place in those words."""

from __future__ import annotations

import re

from shopsim.scenario import ClampKind, Line, Material, Operation, Rack, Station, Worker
from shopsim.scenario.base_record import Record

#: The headings under which lists of the file are edited, with what one item of each is.
LISTS: dict[str, tuple[str, type[Record]]] = {
    "shop.workers": ("Who works there", Worker),
    "shop.stations": ("Machines and benches", Station),
    "shop.clamps": ("Clamps", ClampKind),
    "shop.racks": ("Racks and shelves", Rack),
    "design.operations": ("Operations", Operation),
    "materials": ("Materials", Material),
    "run.lines": ("Lines of the run", Line),
}
#: The titles of fields that stand by themselves.
TITLES = {
    "title": "What this run is called",
    "shop.open": "When it is open",
    "shop.closed": "Closed on",
    "shop.interrupted": "Goes to other things",
    "shop.lost_days": "Days lost altogether",
    "luck.bias": "Actual over likely time",
    "luck.bias_spread": "How unsure that is",
    "luck.pace_spread": "Pace between runs",
    "luck.guess_widening": "Guesses too narrow by",
    "luck.timed_widening": "Timed values too narrow by",
    "luck.guess_spread": "Least error of a guess",
    "luck.timed_spread": "Least error of a timed value",
    "luck.hand_spread": "Unit to unit, hand work",
    "luck.machine_spread": "Unit to unit, machine work",
    "design.name": "What the piece is called",
    "design.parts": "Parts",
    "design.price": "Price of a piece",
    "design.shipping_paid": "The buyer pays for shipping",
    "design.shipping_cost": "The carrier takes",
    "run.orders": "How many are ordered",
    "run.round_up_to": "Round up to a multiple of",
    "run.batch": "Pieces in a batch",
    "run.pieces_open": "Room: pieces under way at once",
    "run.orders_close": "Orders close on",
    "run.start": "Work starts on",
    "run.promised": "Buyers were told",
    "run.release": "A batch may open",
    "run.priority": "What comes first when somebody is free",
    "run.batches_by": "Batches are cut by",
    "run.demand": "Orders that may come",
    "run.cap": "Most orders taken",
    "shipping.packing": "Packing one piece",
    "shipping.packing_station": "Packed at",
    "shipping.packing_hands": "People to pack",
    "shipping.caution": "Cautions for packing",
    "shipping.before_packing": "Stands before it is packed",
    "shipping.pick_up": "The carrier comes on",
    "shipping.pick_up_at": "At what time",
    "shipping.transit": "On the way for",
    "money.currency": "Written before amounts",
    "money.wage": "An hour of your own is to bring",
    "money.overhead_month": "Overhead by the month",
    "money.overhead_hour": "Overhead by the hour of work",
    "money.fees": "Share that fees take",
    "money.fee_order": "Fee for each order",
    "money.deposit": "Paid with the order",
    "money.in_hand": "Cash when orders close",
    "money.beside_the_bench": "Time beside the bench, for each order",
}
_ITEM = re.compile(r'(?P<list>[a-z_.]+)(?: "(?P<name>.*?)"|\[(?P<number>\d+)\])(?: · (?P<rest>.+))?', re.DOTALL)
_INDEX = re.compile(r"\[\d+\]$")


def title_of(record: type[Record], key: str) -> str:
    """What stands over the cell of a field: its title, or its key in words."""
    return record.model_fields[key].title or key.replace("_", " ").capitalize()


def say_field(place: str) -> str:
    """A place of the file as the pages name it: ``Clamps, "bar clamp": How many``; what no page has stays as it is,
    a key that there is not behind the name of what it stands in.

    ``place``: as ``say_place`` says it. What stands deeper within a field is called by the field.
    """
    found = _ITEM.fullmatch(place)
    if found is None or found["list"] not in (*LISTS, "designs"):
        bare = _INDEX.sub("", place)
        return TITLES.get(bare) or (LISTS[bare][0] if bare in LISTS else _say_day(bare) or place)
    which = f'"{found["name"]}"' if found["name"] is not None else f"number {int(found['number']) + 1}"
    rest = found["rest"] or ""
    if found["list"] == "designs":
        said = say_field(f"design.{rest}")
        return f"{said} (of {which})" if said != f"design.{rest}" else place
    heading, record = LISTS[found["list"]]
    if not rest:
        return f"{heading}, {which}"
    key = re.split(r"[.\[ ]", rest, maxsplit=1)[0]
    return f"{heading}, {which}: {title_of(record, key) if key in record.model_fields else rest}"  # a key that there is not


def _say_day(place: str) -> str | None:
    """The opening hours of a day, which have a field each."""
    table, _, day = place.rpartition(".")
    return f"{TITLES[table]}, {day}" if table == "shop.open" else None


def say_mend(mend: str) -> str:
    """A mend in the words of the pages: a table to add something to is called by its heading."""
    return re.sub(
        r"\[\[([a-z_.]+)\]\]", lambda found: f'"{LISTS[found[1]][0]}"' if found[1] in LISTS else found[0], mend
    )
