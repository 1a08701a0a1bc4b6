"""What runs of a scenario earn, cost and leave: whole cents throughout, and hours of those who are not paid by the hour."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from shopsim.engine.calendars import Calendar
from shopsim.engine.luck import draw_luck
from shopsim.engine.run import run as run_engine
from shopsim.scenario.batches import orders_in_turn, pieces_of_lines
from shopsim.scenario.model import Scenario
from shopsim.scenario.values import OrderBook
from shopsim.scenario.variants import Chosen, read_options
from shopsim.scenario.ways import put_ways, ways_in_use
from shopsim.study.execution import Execution
from shopsim.study.material_needs import list_needs, to_cents
from shopsim.study.measures import MEASURES
from shopsim.study.results import Outcome
from shopsim.units import MINUTES_PER_DAY, MINUTES_PER_HOUR

#: Days of a month, over the four years of a leap day.
DAYS_A_MONTH = 365.25 / 12
#: Runs from which it is read who of several people has the work in hand.
SHARED_RUNS = 20
#: Kinds of cost, in the order of a table.
WOOD, GOODS, CARRIER, FEES, PAY, OVERHEAD, TOOLS = (
    "wood", "goods", "carrier", "fees", "pay of helpers", "overhead", "ways of making it",
)  # fmt: skip
COSTS = (WOOD, GOODS, CARRIER, FEES, PAY, OVERHEAD, TOOLS)


@dataclass(frozen=True)
class Payment:
    """What one order pays, in cents: ``deposit`` with the order, ``balance`` (shipping with it) when it ships; fees of each, and
    what the carrier takes."""

    deposit: int
    balance: int
    deposit_fee: int
    balance_fee: int
    carrier: int
    pieces: int

    @property
    def paid(self) -> int:
        """All that the buyer pays."""
        return self.deposit + self.balance


@dataclass(frozen=True)
class RunMoney:
    """What runs of one scenario come to. ``revenue``: cents of what ordered pieces bring, shipping with it; ``costs``: cents of each
    kind (int64, shape (runs,)); ``own_h``: hours of those who are not paid, shape (runs,); ``pieces`` are made, ``ordered`` of
    them for buyers, in ``orders`` orders."""

    revenue: int
    costs: Mapping[str, np.ndarray]
    own_h: np.ndarray
    pieces: int
    ordered: int
    orders: int

    @property
    def left(self) -> np.ndarray:
        """Cents that are left of each run for the hours of those who are not paid; spares count nothing."""
        return np.asarray(self.revenue - sum(self.costs.values()))

    @property
    def left_an_hour(self) -> np.ndarray:
        """Cents that are left for each of these hours."""
        return np.asarray(self.left / self.own_h)

    def mean_cost(self, kind: str) -> int:
        """Mean cents of a kind of cost."""
        return round(float(self.costs[kind].mean()))

    @property
    def spare_cents(self) -> int:
        """What the spare pieces cost in wood and goods, as their share of it: what is tied up until they are sold."""
        spent = self.mean_cost(WOOD) + self.mean_cost(GOODS)
        return round(spent * (self.pieces - self.ordered) / self.pieces)


def list_payments(scenario: Scenario) -> list[Payment]:
    """What each order pays, in the order of the file, line after line. ValueError where a design has no price."""
    money = scenario.money
    fees, share = Decimal(repr(money.fees)), Decimal(repr(money.deposit))
    designs = {design.name: design for design in scenario.all_designs}
    payments = []
    for line in scenario.lines:
        design = designs[line.design]
        if design.price is None:
            raise ValueError(design.name)
        sold: list[tuple[Chosen, int]] = []
        if isinstance(line.orders, OrderBook):
            sold = [(read_options(design, order.option), order.quantity) for order in orders_in_turn(line.orders)]
        else:
            sold = [((), 1)] * int(line.orders)
        for chosen, quantity in sold:
            price = (design.price + sum((design.options[n].adds_price for n in chosen), Decimal(0))) * quantity
            whole = to_cents(price + design.shipping_paid * quantity)
            deposit = to_cents(price * share)
            fee = to_cents(Decimal(whole) / 100 * fees + money.fee_order)
            first = min(fee, to_cents(Decimal(deposit) / 100 * fees + money.fee_order))
            carrier = to_cents(design.shipping_cost * quantity)
            payments.append(Payment(deposit, whole - deposit, first, fee - first, carrier, quantity))
    return payments


def price_runs(scenario: Scenario, outcome: Outcome, paid_share: float) -> RunMoney:
    """The money of runs of a scenario; pure.

    ``outcome``: its runs, or runs of one in which as many pieces are made. ``paid_share``: of the hands-on hours, what paid helpers do
    (``find_paid_share``).
    """
    payments = list_payments(scenario)
    hands_on_h = outcome.measured[:, MEASURES.index("hands_on_h_a_piece")]
    days = outcome.measured[:, MEASURES.index("makespan_days")]
    needs = list_needs(scenario, 0.5)
    made = _count_pieces(scenario)
    total_h = hands_on_h * made
    money = scenario.money
    n = days.size
    wood = sum(need.used_cents or 0 for need in needs if need.rough_mm is not None)
    goods = sum(need.used_cents or 0 for need in needs if need.rough_mm is None)
    ways = sum(to_cents(Decimal(repr(way.price))) for way in ways_in_use(scenario) if way.price is not None)
    overhead = float(money.overhead_month) * 100 * days / DAYS_A_MONTH + float(money.overhead_hour) * 100 * total_h
    costs = {
        WOOD: np.full(n, wood, dtype=np.int64),
        GOODS: np.full(n, goods, dtype=np.int64),
        CARRIER: np.full(n, sum(one.carrier for one in payments), dtype=np.int64),
        FEES: np.full(n, sum(one.deposit_fee + one.balance_fee for one in payments), dtype=np.int64),
        PAY: _pay_cents(scenario, days),
        OVERHEAD: np.rint(overhead).astype(np.int64),
        TOOLS: np.full(n, ways, dtype=np.int64),
    }
    own = total_h * (1 - paid_share) + len(payments) * money.beside_the_bench / MINUTES_PER_HOUR
    return RunMoney(
        sum(one.paid for one in payments), costs, own, made, sum(one.pieces for one in payments), len(payments)
    )


def _count_pieces(scenario: Scenario) -> int:
    return sum(pieces_of_lines(scenario))


def _pay_cents(scenario: Scenario, days: np.ndarray) -> np.ndarray:
    """What paid helpers are paid: for the hours that they are to be in the shop, from the first day until the last piece is done."""
    cents = np.zeros(days.size, dtype=np.int64)
    shop = put_ways(scenario).shop
    for worker, who in enumerate(shop.workers):
        if not who.pay:
            continue
        calendar = Calendar(shop, worker, scenario.day0, True)
        start, end, _ = calendar.upto(int(np.ceil(days.max())) + 1)
        last = days * MINUTES_PER_DAY
        minutes = (np.clip(last[:, None], start, end) - start).sum(axis=1)
        cents += np.rint(minutes / MINUTES_PER_HOUR * float(who.pay) * 100).astype(np.int64)
    return cents


def find_paid_share(scenario: Scenario, execution: Execution) -> float:
    """The share of hands-on minutes that paid helpers do, 0..1, over SHARED_RUNS runs; 0 where nobody is paid."""
    paid = sum(1 << n for n, worker in enumerate(scenario.shop.workers) if worker.pay)
    if not paid:
        return 0.0
    key = ("paid share", execution.hash_of(scenario), execution.seed)
    known: float | None = execution.known.get(key)
    if known is None:
        known = execution.call(_share_of, scenario, paid, execution.seed, even_if_stopped=True)
        execution.known.put(key, known)
    return known


def _share_of(scenario: Scenario, paid: int, seed: int) -> float:
    plan = Execution().plans.get(scenario.title, lambda: (scenario, None)).plan
    theirs = whole = 0.0
    for number in range(SHARED_RUNS):
        draws = draw_luck(plan.luck, seed, number, None)
        record = run_engine(plan, draws)
        minutes = record.setup_min + record.work_min
        theirs += float(minutes @ np.bitwise_count(record.workers & paid))
        whole += float(minutes @ np.bitwise_count(record.workers))
        off = np.array(draws.unclamp)
        someone = record.unclamp_worker >= 0
        by_paid = someone & ((paid >> np.maximum(record.unclamp_worker, 0)) & 1 > 0)
        theirs += float(off[by_paid].sum())
        whole += float(off[someone].sum())
    return theirs / whole if whole else 0.0
