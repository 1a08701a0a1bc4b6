"""When something more pays: by days for each clamp, or by what a day is worth in money."""

from __future__ import annotations

import math
from dataclasses import dataclass

from shopsim.errors import InputError
from shopsim.say import say_number, say_plain

#: A clamp pays while it saves at least so many days of the average ship day (own judgement).
PAYS_DAYS = 0.10


@dataclass(frozen=True)
class BreakEven:
    """The maker's own threshold: ``days_a_clamp`` that each clamp must save, or ``money_a_day`` that a day saved is worth.

    Where a price is missing, days count.
    """

    days_a_clamp: float = PAYS_DAYS
    money_a_day: float | None = None

    def __post_init__(self) -> None:
        if not self.days_a_clamp > 0 or not math.isfinite(self.days_a_clamp):
            raise InputError(
                f"threshold = {self.days_a_clamp!r} days a clamp cannot be used · write a number above 0, like 0.1"
            )
        if self.money_a_day is not None and not (self.money_a_day > 0 and math.isfinite(self.money_a_day)):
            raise InputError(
                f"a day worth {self.money_a_day!r} cannot be used · write an amount above 0 in your own money, like 40"
            )

    def days_to_pay(self, added: int, price: float | None) -> float:
        """Days of the average ship day that so many clamps of this price have to save before they pay."""
        if self.money_a_day is None or price is None or math.isnan(price):
            return self.days_a_clamp * added
        return price / self.money_a_day

    def say(self) -> str:
        """The threshold in words, after "a step pays while it saves at least"."""
        if self.money_a_day is None:
            return f"{say_plain(self.days_a_clamp)} day of the average for each clamp"
        return f"a day of the average for each {say_number(self.money_a_day)} that it costs"
