"""The log of the draft's run on the page: read, rows added by a tap after a look whether they can be true, taken back, handed over."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Sequence
from pathlib import Path

import streamlit as st

from shopsim.answers.logged_run import read_log_file
from shopsim.answers.new_rows import NOT_WRITTEN, Cells, find_faults, find_new_faults, format_when, say_row
from shopsim.app.drafts import edit_draft
from shopsim.app.faults import draw_faults, draw_problem, drawn_anew
from shopsim.app.markdown_text import escape_markdown
from shopsim.app.state import (
    begin_run_log,
    change_draft,
    find_log_file,
    has_former_log,
    link_to,
    need_draft,
    need_scenario,
    take_back_former_log,
)
from shopsim.errors import Fault, InputError, ScenarioError
from shopsim.limits import MAX_FILE_BYTES
from shopsim.say import say_plain
from shopsim.scenario import Scenario
from shopsim.scenario.appending import LOG_NAME, append_row, complete_head
from shopsim.scenario.happenings import TAKEN_BACK, Happening
from shopsim.scenario.run_log import decode_log, read_run_log
from shopsim.scenario.text import Unreadable, check_size
from shopsim.study.named_tasks import say_pieces

_TAPPED, _TOLD = "bench tapped", "bench told"


def log_name() -> str:
    """What the log of the draft's run is called: ``stools-run-log.csv`` for ``stools.toml``."""
    return f"{Path(need_draft().name).stem}-{LOG_NAME}"


def mark_of(text: str) -> str:
    """What tells this state of the log from all others, for the names of buttons that are for this state alone."""
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def read_log() -> str:
    """The text of the log of the draft's run; empty where nothing is logged. Raises ScenarioError where it cannot be read."""
    return read_log_file(find_log_file())


def write_rows(tap: str, rows: Sequence[Cells], when: dt.datetime | None) -> None:
    """Add rows to the log, all or none, after a look whether they can be true; ``when``: None means now. What came of it is told
    on the page that is drawn next. ``tap``: a name of this very tap, so that two quick ones do not write twice."""
    if st.session_state.get(_TAPPED) == tap:
        return
    st.session_state[_TAPPED] = tap
    moment = dt.datetime.now() if when is None else when
    cells = [{"when": format_when(moment), **row} for row in rows]
    told: list[str] = []
    try:
        text, scenario, name = read_log(), need_draft().scenario, log_name()
        if scenario is None:
            raise InputError("the scenario has faults · mend them first; nothing is logged")
        mine, others = find_new_faults(scenario, text, cells, name)
        before = find_faults(scenario, text, name) if others else ()
        faults = [*mine, *(fault for fault in others if fault not in before)]
        if faults:
            st.session_state[_TOLD], st.session_state[_TAPPED] = ("refused", faults), None
            return
        path = find_log_file()
        for row in cells:
            line = append_row(path, row)
            told.append(f"row {line}: {say_row(row)}")
        st.session_state[_TOLD] = ("written", told)
    except (InputError, ScenarioError) as error:
        st.session_state[_TOLD], st.session_state[_TAPPED] = ("trouble", [*told, str(error)]), None


def draw_told(rows: Sequence[Happening], mark: str) -> None:
    """What the last tap came to, and the last row that stands, with a button that takes it back."""
    kind, told = st.session_state.pop(_TOLD, ("", []))
    if kind == "refused":
        faults: list[Fault] = told
        st.toast("Not written, because it cannot be so: see at the top.")
        st.error("Nothing is written, because it cannot be so:")
        draw_faults([Fault(log_name() if one.file == NOT_WRITTEN else one.file, *_rest(one)) for one in faults])
    elif kind == "trouble":
        st.toast("Not written: see at the top.")
        draw_problem(InputError(" · ".join(told)))
    elif kind == "written":
        st.toast(
            "  \n".join(escape_markdown(f"Written, {one}") for one in told[:3])
        )  # seen wherever the page is scrolled to
        st.success("  \n".join(escape_markdown(f"Written, {one}") for one in told))
    if rows:
        last = max(rows, key=lambda row: row.line)
        if kind != "written":
            st.caption(escape_markdown(f"Last in the log, row {last.line}: {say_happening(last)}"))
        draw_take_back("Take it back", last.line, mark)


def _rest(fault: Fault) -> tuple[int | None, str, str, str]:
    return fault.line, fault.place, fault.rule, fault.mend


def draw_take_back(label: str, line: int, mark: str) -> None:
    """A button that takes a row of the log back."""
    key = f"{label} {line} {mark}"
    st.button(
        label, key=key, width="stretch", on_click=write_rows, args=(key, [{"what": TAKEN_BACK, "row": str(line)}], None)
    )


def say_happening(row: Happening) -> str:
    """A row of the log in words."""
    minute = "" if row.minute is None else f" {int(row.minute) // 60:02d}:{int(row.minute) % 60:02d}"
    said = [row.what, row.operation, row.material, f"order {row.order}" if row.order else "", row.part]
    said += [f"batch {row.batch}" if row.batch else "", f"pieces {_say(row.pieces)}" if row.pieces else ""]
    said += [f"units {_say(row.units)}" if row.units else "", row.worker]
    said += ["" if row.minutes is None else f"{say_plain(row.minutes)} min", row.note]
    return f"{row.date:%a} {row.date:%Y-%m-%d}{minute}, {', '.join(part for part in said if part)}"


def _say(numbers: Sequence[int]) -> str:
    return say_pieces(number - 1 for number in numbers)


def draw_log(text: str, rows: Sequence[Happening], mark: str, shown: int = 12) -> None:
    """The last rows of the log, each with a way to take it back; the log to download, and to put another in its place."""
    for row in sorted(rows, key=lambda row: row.line, reverse=True)[:shown]:
        st.markdown(f"**{row.line}** {escape_markdown(say_happening(row))}")
        draw_take_back(f"Take row {row.line} back", row.line, mark)
    if len(rows) > shown:
        st.caption(f"And {len(rows) - shown} rows before these, in the file.")
    draw_files(text)


def draw_files(text: str) -> None:
    """The log to download, where it stands, and a place to hand over one that is there."""
    if text:
        st.download_button(
            "Download the log", text.encode(), log_name(), "text/csv", key="download log", on_click="ignore", width="stretch"
        )  # fmt: skip
        st.caption(
            f"It stands in {escape_markdown(find_log_file())}; the command shopsim log can add to it too, with \\-\\-log and this name."
        )
    file = st.file_uploader(
        "A log that you have, in place of this one" if text else "A log that you have",
        type=["csv", "txt"], key="log upload", max_upload_size=MAX_FILE_BYTES // 1_000_000,
    )  # fmt: skip
    if file is not None and st.session_state.get("log taken") != file.file_id:
        _take_upload(need_scenario(), file.getvalue(), file.file_id)
    if has_former_log() and st.button("Go back to the log before it", key="former log", width="stretch"):
        take_back_former_log()
        st.rerun()


def _take_upload(scenario: Scenario, data: bytes, mark: str) -> None:
    """Take a log that was handed over, unless it has faults, which are told by row."""
    try:
        text = decode_log(check_size(data))
    except Unreadable as error:
        draw_problem(InputError(f"{error.rule} · {error.mend}"))
        return
    if not text.strip():
        draw_problem(InputError("this file holds nothing · choose the log of the run"))
        return
    faults = find_faults(scenario, text, log_name())
    if faults:
        st.write("This log is not taken, because it cannot be so. Mend it and hand it over again.")
        draw_faults(faults)
        return
    with drawn_anew():
        begin_run_log(complete_head(text).encode())
        st.session_state["log taken"] = mark


def draw_faulty(faults: Sequence[Fault], text: str) -> None:
    """A log that cannot be true: every fault by row, and ways to mend it."""
    st.header("First mend the log", anchor=False)
    st.write(
        "What the log of this run says cannot all be so; perhaps the run has been changed since. Take rows back, or mend the file."
    )
    draw_faults(faults)
    mark = mark_of(text)
    for line in dict.fromkeys(fault.line for fault in faults if fault.line is not None and fault.line > 1):
        draw_take_back(f"Take row {line} back", line, mark)
    draw_files(text)


def draw_not_begun(day0: dt.date) -> None:
    """That the run begins only later, in one line, and a way to let it begin today."""
    st.info(
        f"This run begins on {day0:%A}, {day0}, which is still to come: until then only material that comes can be logged."
    )
    if st.button("Let the run begin today", key="begin today", width="stretch"):
        draft, today = need_draft(), dt.date.today()
        run = (draft.data or {}).get("run")
        closes = run.get("orders_close") if isinstance(run, dict) else None
        changes = {"run.start": today}
        if isinstance(closes, dt.date) and closes > today:
            changes["run.orders_close"] = today
        with drawn_anew():
            faults = edit_draft(draft, changes).faults
            if faults:
                draw_faults(faults)
                link_to("orders", "Change the start yourself")
                st.stop()
            change_draft(changes)


def standing_rows(text: str) -> tuple[Happening, ...]:
    """The rows of a log that stand, whatever is wrong with others."""
    return read_run_log(text, log_name()).rows
