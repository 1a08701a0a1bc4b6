"""The rest of what can be logged, folded away: any other work, something spoiled, an order shipped, material, days."""

from __future__ import annotations

import datetime as dt

import streamlit as st

from shopsim.answers.bench_choices import find_ready_orders, list_begun_pieces, list_days, list_materials_to_come
from shopsim.app.bench_cards import Bench, choose_pieces
from shopsim.app.markdown_text import escape_markdown
from shopsim.scenario.happenings import BEGUN, CAME, CLAMPS_OFF, DONE, LOST, PAUSED, SHIPPED, SHORTENED, SPOILED
from shopsim.study.named_tasks import say_pieces

#: Orders that have a button of their own at once, and days to choose from.
MAX_ORDERS, MAX_DAYS = 30, 14
#: By how much a day may be shortened with a tap.
SHORTER = {"30 min shorter": "30", "1 hour shorter": "60", "2 hours shorter": "120", "Nothing lost": "0"}


def draw_more(bench: Bench) -> None:
    """Everything but what is next and what is under way."""
    with st.expander("An order has shipped"):
        _draw_orders(bench)
    materials = list_materials_to_come(bench.going)
    if materials:
        with st.expander("Material has come"):
            for name in materials:
                bench.button(f"Here now: {name}", [{"what": CAME, "material": name}], "came")
    with st.expander("A day was lost or shortened"):
        _draw_days(bench)
    with st.expander("Something was spoiled"):
        _draw_spoiled(bench)
    with st.expander("Any other work"):
        _draw_any(bench)


def _draw_orders(bench: Bench) -> None:
    ready = find_ready_orders(bench.going)
    if not ready:
        st.write("No order can ship yet: the pieces for it are not all done.")
    for order in ready[:MAX_ORDERS]:
        what = f"{order.quantity} pieces" if order.quantity > 1 else order.design
        label = f"Order {order.id} has shipped ({what}{', ' + order.option if order.option else ''})"
        bench.button(label, [{"what": SHIPPED, "order": order.id}], "ships")


def _draw_days(bench: Bench) -> None:
    today = (bench.when or dt.datetime.now()).date()
    days = list_days(bench.going, today, MAX_DAYS)
    if not days:
        st.write("The shop has not been open yet since the run began.")
        return
    chosen = st.pills(
        "Which days", days, selection_mode="multi", format_func=lambda day: f"{day:%a %d %b}", key=f"days {bench.mark}",
        default=days[:1] if len(days) == 1 else None,
    )  # fmt: skip
    bench.button("Lost altogether", [{"what": LOST, "when": f"{day}"} for day in chosen], "day", disabled=not chosen)
    for label, minutes in SHORTER.items():
        rows = [{"what": SHORTENED, "when": f"{day}", "minutes": minutes} for day in chosen]
        bench.button(label, rows, "day", disabled=not chosen)


def _draw_spoiled(bench: Bench) -> None:
    work = bench.going.plan.worklist
    batch = _choose_batch(bench, "spoiled")
    begun = list_begun_pieces(bench.going, batch)
    if not begun:
        st.write("Nothing of a piece of this batch has been begun.")
        return
    pieces = choose_pieces("Which pieces", begun, f"spoiled pieces {batch} {bench.mark}")
    design = next(one for one in work.scenario.all_designs if one.name == work.lines[work.batches[batch].line].design)
    part = None
    if design.parts:
        part = st.pills("A part, or else the whole piece", list(design.parts), key=f"spoiled part {bench.mark}")
    cells = {"what": SPOILED, "batch": str(batch + 1), "pieces": say_pieces(pieces)} | ({"part": part} if part else {})
    bench.button(f"Spoiled: {part or 'the whole piece'}", [cells], "spoiled", disabled=not pieces)


def _choose_batch(bench: Bench, key: str) -> int:
    """A batch, from 0; none is asked for where there is but one."""
    n = len(bench.going.plan.worklist.batches)
    if n == 1:
        return 0
    return int(st.selectbox("Which batch", range(n), format_func=lambda one: f"batch {one + 1}", key=f"{key} batch"))


def _draw_any(bench: Bench) -> None:
    work = bench.going.plan.worklist
    names = list(dict.fromkeys(step.operation.name for step in work.steps))
    name = st.selectbox("Which operation", names, key="any operation")
    batch = _choose_batch(bench, "any")
    tasks = [
        task
        for task in range(work.n_tasks)
        if work.steps[work.task_step[task]].operation.name == name and batch in work.task_batches[task]
    ]
    if not tasks:
        st.write(f"Batch {batch + 1} has no {escape_markdown(name)}.")
        return
    own = sorted({work.task_piece[task] for task in tasks} - {-1})
    cells = {"operation": str(name), "batch": str(batch + 1)}
    if len(own) > 1:
        chosen = choose_pieces(
            "Which pieces (none: all that it can be)", own, f"any pieces {name} {batch} {bench.mark}"
        )
        cells |= {"pieces": say_pieces(chosen)} if chosen else {}
    for label, what in {"Begun": BEGUN, "Paused": PAUSED, "Done": DONE, "Clamps off": CLAMPS_OFF}.items():
        if what != CLAMPS_OFF or any(work.steps[work.task_step[task]].clamps for task in tasks):
            bench.button(label, [{"what": what, **cells}], "any")
