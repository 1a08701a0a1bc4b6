"""An answer on the page: its sentence, its charts with how to read them, its table, what to read beside it, and files to keep."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

import pandas as pd
import streamlit as st

from shopsim.answers.answer import Answer
from shopsim.answers.caution_lists import list_cautions
from shopsim.answers.delivery_words import BINDING
from shopsim.app.background import JobSnapshot, watch
from shopsim.app.markdown_text import escape_markdown
from shopsim.app.page_style import theme_name
from shopsim.app.state import link_to
from shopsim.charts import CONFIG, build_for_answer, format_page, how_to_read
from shopsim.charts.theme import find_theme
from shopsim.export import file_name, format_csv, format_workbook
from shopsim.questions import find_kind
from shopsim.report import Section, build_section, format_report, format_table
from shopsim.scenario import Scenario, dump_scenario
from shopsim.screens import further_tables, screen_table

_STYLE = """
<style>
  .wide {overflow-x: auto;}
  .wide table {border-collapse: collapse; font-size: .9rem; font-variant-numeric: tabular-nums; width: auto;}
  .wide th, .wide td {padding: .3rem .8rem .3rem 0; text-align: left; vertical-align: top;
    border: 0; border-bottom: 1px solid rgba(128, 132, 136, .35);}
  .wide th {font-weight: 600; vertical-align: bottom;}
  .wide .n {text-align: right;} .wide .n, .wide .s {white-space: nowrap;}
  .wide td:not([class]) {min-width: 11rem;}
  .wide:focus-visible {outline: 3px solid #2481d4;}
  .stamp {font-size: .9rem;}
  .st-key-answer-sentence strong {font-size: 1.2rem; line-height: 1.35; font-weight: 620;}
  @media (max-width: 640px) {
    .wide table {font-size: .84rem;}
    .wide th, .wide td {padding-right: .6rem;}
    .wide :is(th, td):first-child {position: sticky; left: 0; background: GROUND;}
    .wide td:first-child:not([class]) {min-width: 7.5rem;}
    .wide table:has(td + td) {margin-right: 1.2rem;}
    .st-key-answer-sentence strong {font-size: 1.1rem;}
  }
</style>
"""
#: A date, its hyphens escaped for the page.
_DATE = re.compile(r"(\d{4})\\-(\d{2})\\-(\d{2})")
#: Where a first sentence ends.
_END = re.compile(r"(?<=[.!?]) (?=[A-Z0-9\"])")


def draw_sentence(text: str, stamp: str = "") -> None:
    """What the answer says, its first sentence foremost, with what it was made with in small letters."""
    first, *rest = _END.split(text, maxsplit=1)
    st.html(_STYLE.replace("GROUND", find_theme(theme_name()).ground))
    with st.container(border=True, key="answer-sentence"):
        st.markdown(f"**{keep_dates(escape_markdown(first))}**")
        if rest:
            st.markdown(keep_dates(escape_markdown(rest[0])))
        if stamp:
            st.caption(escape_markdown(stamp))


def draw_waiting(slot: str, job: JobSnapshot) -> None:
    """What stands on the page before there is a first result."""
    if job.state == "running":
        st.markdown("A first look at the answer comes in a few seconds.")
    watch(slot, job)


def keep_dates(text: str) -> str:
    """Dates with hyphens at which no line breaks."""
    return _DATE.sub("\\1\u2011\\2\u2011\\3", text)


def say_stamp(answer: Answer, job: JobSnapshot | None = None) -> str:
    """Runs, seed and version of an answer; and that more are on the way."""
    said = f"From {answer.runs_each} runs of each, seed {answer.seed}, version {answer.version}."
    if job is not None and job.state == "running":
        said += " A first look: more runs are on the way, and its ranges will get narrower."
    elif answer.partial:
        said += " Stopped before the end: fewer runs than were asked for."
    return said


def draw_charts(slot: str, figures: Sequence[Any]) -> None:
    """Charts, each under the sentence that says how it is read."""
    for number, figure in enumerate(figures):
        st.markdown(escape_markdown(how_to_read(figure)))
        st.plotly_chart(
            figure, width="stretch", theme=None, config=CONFIG, key=f"{slot} chart {number}",
            alt=f"{figure.layout.title.text}. {how_to_read(figure)}",
        )  # fmt: skip


def draw_table(table: pd.DataFrame, title: str = "", level: str = "##") -> None:
    """A table as plain text cells that can be read aloud; it is moved sideways where the screen is narrow."""
    if title:
        st.markdown(f"{level} {escape_markdown(title)}")
    st.html(format_table(table))


def draw_notes(notes: Sequence[str]) -> None:
    """What should be read beside an answer; the note on binding dates stands out."""
    if BINDING in notes:
        st.info(f"**Before you state a date.** {escape_markdown(BINDING)}")
    rest = [note for note in notes if note != BINDING]
    if rest:
        st.markdown("\n".join(f"- {escape_markdown(note)}" for note in rest))


def draw_cautions(scenario: Scenario, unfolded: bool) -> None:
    """The cautions of the operations, each with the operations it stands beside; folded away unless ``unfolded``."""
    cautions = list_cautions(scenario)
    if len(cautions):
        with st.expander(f"Cautions for this work ({len(cautions)})", expanded=unfolded):
            lines = [
                f"- **{escape_markdown(row.caution)}** ({escape_markdown(row.operations)})"
                + (f": {escape_markdown(row.text)}" if row.text else "")
                for row in cautions.itertuples(index=False)
            ]
            st.markdown("\n".join(lines))


def draw_answer(
    slot: str, job: JobSnapshot, answer: Answer, scenario: Scenario, shown: pd.DataFrame | None = None
) -> None:
    """A whole answer, from its sentence to its files. ``shown``: its table for the screen, where it is not the usual one."""
    draw_sentence(answer.sentence, say_stamp(answer, job))
    watch(slot, job)
    figures = build_for_answer(answer.key, answer.rows, answer.tables, theme_name())
    draw_charts(slot, figures)
    tables = {"": screen_table(answer) if shown is None else shown}
    if shown is None:
        tables |= further_tables(answer)
    for title, table in tables.items():
        draw_table(table, title or answer.title)
    draw_notes(answer.notes)
    section = (
        partial(build_section, answer, tables) if figures or shown is None else partial(_plain_section, answer, tables)
    )
    draw_files(
        slot, answer.titled_tables(), figures, lambda: [section()], scenario,
        {"version": answer.version, "seed": answer.seed, "replications": answer.replications},
    )  # fmt: skip


def _plain_section(answer: Answer, tables: Mapping[str, pd.DataFrame]) -> Section:
    return Section(answer.title, answer.sentence, (), tables, answer.notes)


def draw_next_pages(key: str) -> None:
    """Links to what may be asked next, after the answer of this key."""
    kind = find_kind(key)
    for page, label in () if kind is None else kind.next_pages:
        link_to(page, label)


def draw_files(
    slot: str,
    tables: Mapping[str, pd.DataFrame],
    figures: Sequence[Any],
    sections: Any,
    scenario: Scenario,
    stamp: Mapping[str, object],
) -> None:
    """Everything to keep: each table as CSV and XLSX, each chart as a page, and the whole as a report. Made when asked for."""
    with st.expander("Files to keep: tables, charts, the whole answer"):
        st.markdown(
            "The report opens in any browser, offline, and prints well. A chart can also be kept as a picture: "
            "the camera in its upper corner."
        )
        st.download_button(
            "Whole answer as a report (HTML)",
            lambda: _report(sections(), scenario, stamp).encode(),
            file_name("report " + slot, ".html"), "text/html", key=f"{slot} report", on_click="ignore",
        )  # fmt: skip
        for title, table in tables.items():
            with st.container(horizontal=True, vertical_alignment="center"):
                st.markdown(escape_markdown(f"{title}, {len(table):,} rows"), width=300)
                st.download_button(
                    f"CSV: {title}", partial(_csv, table), file_name(title), "text/csv", key=f"{slot} csv {title}",
                    on_click="ignore",
                )  # fmt: skip
                st.download_button(
                    f"XLSX: {title}", partial(format_workbook, {title: table}), file_name(title, ".xlsx"),
                    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", key=f"{slot} xlsx {title}",
                    on_click="ignore",
                )  # fmt: skip
        for number, figure in enumerate(figures):
            title = str(figure.layout.title.text)
            st.download_button(
                f"Chart: {title} (HTML)", partial(_chart, figure), file_name(title, ".html"), "text/html",
                key=f"{slot} chart file {number}", on_click="ignore",
            )  # fmt: skip


def _csv(table: pd.DataFrame) -> bytes:
    return format_csv(table).encode()


def _report(sections: Sequence[Section], scenario: Scenario, stamp: Mapping[str, object]) -> str:
    return format_report(
        sections, title=scenario.title, scenario_text=dump_scenario(scenario), stamp=stamp, date=dt.date.today(),
        cautions=list_cautions(scenario),
    )  # fmt: skip


def _chart(figure: Any) -> bytes:
    return format_page(figure).encode()
