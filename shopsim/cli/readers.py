"""What may be typed behind an option: each reader takes the text, or says in one line what would be right."""

from __future__ import annotations

import argparse
import datetime as dt
import re
from collections.abc import Callable

from shopsim.dates import parse_date
from shopsim.limits import MAX_ORDER_COUNTS, MAX_ORDERS
from shopsim.units import UnitError

#: What may be typed for each way of cutting batches, and what the scenario calls it.
BOTH_WAYS = "both"
_WAYS = {"received": "order received", "order received": "order received", "option": "option", BOTH_WAYS: BOTH_WAYS}


def named(text: str) -> str:
    """Reads the name of a file or folder, which is not blank."""
    if not text.strip():
        raise argparse.ArgumentTypeError("no name is given; write one, or leave the option out")
    return text


def whole(least: int, most: int) -> Callable[[str], int]:
    """Reads a whole number between two bounds."""

    def read(text: str) -> int:
        if not re.fullmatch(r"\s*[+-]?[0-9]{1,30}\s*", text):
            raise argparse.ArgumentTypeError(f'"{text}" is not a whole number; write one from {least} to {most}')
        number = int(text)
        if not least <= number <= most:
            raise argparse.ArgumentTypeError(f"{number} is out of range; write a number from {least} to {most}")
        return number

    return read


def list_of(least: int, most: int) -> Callable[[str], list[int]]:
    """Reads whole numbers between two bounds with commas between them, doubles left out, in rising order."""
    one = whole(least, most)

    def read(text: str) -> list[int]:
        numbers = sorted({one(part) for part in text.split(",")})
        if len(numbers) > 100:
            raise argparse.ArgumentTypeError(f"{len(numbers)} numbers are too many; write at most 100")
        return numbers

    return read


def orders(text: str) -> int | list[int]:
    """Reads one number of orders, ``18``, or several: from the fewest to the most, ``5..40``, or a list, ``5,8,10..18``."""
    one = whole(1, MAX_ORDERS)
    numbers: set[int] = set()
    for part in text.split(","):
        ends = [one(end) for end in part.split("..")]
        if len(ends) > 2:
            raise argparse.ArgumentTypeError(f'"{text}" is not a number of orders; write 18, or 5..40, or 5,8,18')
        if ends[-1] < ends[0]:
            raise argparse.ArgumentTypeError(f"{ends[0]} is more than {ends[-1]}; write the fewest first, like 5..40")
        if ends[-1] - ends[0] >= MAX_ORDER_COUNTS:
            raise argparse.ArgumentTypeError(
                f"{ends[-1] - ends[0] + 1} numbers of orders are too many; ask for at most {MAX_ORDER_COUNTS}"
            )
        numbers.update(range(ends[0], ends[-1] + 1))
    if len(numbers) > MAX_ORDER_COUNTS:
        raise argparse.ArgumentTypeError(
            f"{len(numbers)} numbers of orders are too many; ask for at most {MAX_ORDER_COUNTS}"
        )
    return numbers.pop() if "," not in text and ".." not in text else sorted(numbers)


def amount(text: str) -> float:
    """Reads a number above 0, such as days or money."""
    try:
        number = float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is not a number; write one above 0, like 0.25') from None
    if not 0 < number <= 1e9:
        raise argparse.ArgumentTypeError(f"{text} is out of range; write a number above 0, like 0.25")
    return number


def percent(text: str) -> float:
    """Reads a share in percent, with or without the sign."""
    try:
        number = float(text.strip().removesuffix("%"))
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is not a number; write percent, like 80') from None
    if not 1 <= number <= 99.9:
        raise argparse.ArgumentTypeError(f"{text} is out of range; write percent from 1 to 99.9")
    return number


def day(text: str) -> dt.date:
    """Reads a date, like 2027-04-30."""
    try:
        return parse_date(text.strip())
    except UnitError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def count(text: str) -> int:
    """Reads how many orders, 0 among them."""
    if not text.strip().isascii() or not text.strip().isdigit() or int(text) > 10_000:
        raise argparse.ArgumentTypeError(f'"{text}" is not a number of orders; write a whole number up to 10000')
    return int(text)


def way(text: str) -> str:
    """Reads a way of cutting batches, or that both are to be compared."""
    known = _WAYS.get(" ".join(text.casefold().split()))
    if known is None:
        raise argparse.ArgumentTypeError(f'"{text}" is no way to cut batches; write received, option or both')
    return known
