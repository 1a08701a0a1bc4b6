"""What holds the run back: the days that one more of each thing would save, beside where the time goes."""

from __future__ import annotations

from shopsim.answers.alternatives import USUAL
from shopsim.app.asking import Question, ask_holdups
from shopsim.app.background import follow
from shopsim.app.beside import draw_beside
from shopsim.app.finer import draw_finer
from shopsim.app.results import draw_answer, draw_waiting
from shopsim.app.state import need_scenario
from shopsim.app.whatifs import draw_whatifs
from shopsim.screens import screen_table


def show() -> None:
    """Draw the page."""
    whatif = draw_whatifs(need_scenario())
    seed, replications = draw_finer("holdups", USUAL)
    question = Question("holdups", whatif.scenario, (), seed, replications)
    job = follow("holdups", question.key, ask_holdups(question))
    if job.result is None:
        draw_waiting("holdups", job)
        return
    draw_answer("holdups", job, job.result, whatif.scenario)
    draw_beside("holdups", job.result.title, whatif.said, job.result.sentence, screen_table(job.result))
