"""A figure as a piece of a web page, and the script that draws it: nothing is fetched from anywhere."""

from __future__ import annotations

import html
import json
from typing import Any

import plotly.graph_objects as go
from plotly.offline import get_plotlyjs

from shopsim.charts.chart_style import how_to_read

#: How figures behave on a page; the same for the app and the report. Of the buttons over a chart two are left: a picture
#: of it, and all of it again after a closer look.
CONFIG: dict[str, Any] = {
    "displaylogo": False,
    "responsive": True,
    "showTips": False,
    "modeBarButtons": [["toImage", "resetScale2d"]],
    "toImageButtonOptions": {"format": "png", "scale": 2, "filename": "chart"},
    "displayModeBar": True,
    "scrollZoom": False,
}


def format_script() -> str:
    """The text of the drawing library (about 5 MB), for one ``<script>`` element of a page that opens offline."""
    return str(get_plotlyjs()).replace("</script", "<\\/script")


def format_figure(figure: go.Figure, element: str) -> str:
    """A figure as HTML: the element it is drawn in, with its size and description, and its data as inert JSON.

    ``element``: an id that is not yet on the page. The page needs ``format_script`` once
    and a few lines that draw each (see ``DRAW``).
    """
    data = figure.to_json(validate=False)
    assert data is not None
    safe = data.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
    height = int(figure.layout.height or 400)
    told = html.escape(f"{figure.layout.title.text}. {how_to_read(figure)}")
    return (
        f'<div class="chart" id="{html.escape(element)}" role="img" aria-label="{told}" style="height:{height}px"></div>\n'
        f'<script type="application/json" data-chart="{html.escape(element)}">{safe}</script>\n'
    )


#: Draws every figure of a page; for printing they take the width of the paper and come back afterwards.
DRAW = """\
(function () {
  var config = CONFIG_JSON;
  var drawn = [];
  document.querySelectorAll('script[data-chart]').forEach(function (holder) {
    var figure = JSON.parse(holder.textContent);
    var place = document.getElementById(holder.getAttribute('data-chart'));
    try {
      Plotly.newPlot(place, figure.data, figure.layout, config);
      drawn.push(place);
    } catch (fault) {
      place.textContent = 'This chart cannot be drawn here; the table below it says the same. ' + fault;
    }
  });
  window.addEventListener('beforeprint', function () {
    document.querySelectorAll('details').forEach(function (one) { one.open = true; });
    drawn.forEach(function (place) { Plotly.relayout(place, {width: 680, autosize: false}); });
  });
  window.addEventListener('afterprint', function () {
    drawn.forEach(function (place) { Plotly.relayout(place, {width: null, autosize: true}); });
  });
})();
"""


def format_page(figure: go.Figure) -> str:
    """A figure as a web page of its own (about 5 MB) that opens offline and fetches nothing."""
    draw = DRAW.replace("CONFIG_JSON", json.dumps(CONFIG, sort_keys=True))
    ground = figure.layout.template.layout.paper_bgcolor
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{figure.layout.title.text}</title>\n</head>\n"
        f'<body style="margin: 0; background: {ground}">\n{format_figure(figure, "chart-0")}'
        f"<script>{format_script()}</script>\n<script>\n{draw}</script>\n</body>\n</html>\n"
    )
