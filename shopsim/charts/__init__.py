"""Tables to figures: pure functions, our own look in light and dark, no sampling and no reading of files.

Every ``build_*`` function takes plain tables and the name of a theme ("light" or "dark") and
gives a Plotly figure with its own template, whatever the global default is. Show it with
the page's own theme switched off, and with ``CONFIG``. ``how_to_read`` gives its one sentence.
"""

from shopsim.charts.batches_chart import build_lead_times
from shopsim.charts.chart_style import how_to_read
from shopsim.charts.delivery_chart import build_delivery, build_order_counts
from shopsim.charts.for_answers import build_for_answer
from shopsim.charts.network_chart import build_network
from shopsim.charts.savings_chart import build_clamp_savings, build_holdups
from shopsim.charts.theme import THEMES
from shopsim.charts.timeline_chart import build_timeline
from shopsim.charts.use_chart import build_clamps_in_use, build_use
from shopsim.charts.waiting_chart import build_waiting
from shopsim.charts.web import CONFIG, DRAW, format_figure, format_page, format_script

__all__ = [
    "CONFIG",
    "DRAW",
    "THEMES",
    "build_clamp_savings",
    "build_clamps_in_use",
    "build_delivery",
    "build_for_answer",
    "build_holdups",
    "build_lead_times",
    "build_network",
    "build_order_counts",
    "build_timeline",
    "build_use",
    "build_waiting",
    "format_figure",
    "format_page",
    "format_script",
    "how_to_read",
]
