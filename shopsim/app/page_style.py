"""How the pages look: our colours in light and dark, the same as on the charts, and a calm hand for the rest."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from shopsim.charts.theme import DARK, FONT, LIGHT, Theme, ThemeName

#: Grounds that stand a little apart from the page: the menu, and fields to fill in.
_APART = {"light": "#f2f3f0", "dark": "#1f242a"}
#: What can be pressed, and the text on it.
_PRESSED = {"light": "#223876", "dark": "#8fb8f0"}
_LINKS = {"light": "#223876", "dark": "#a9c8f5"}

_STYLE = """
<style>
  .block-container {padding-top: 4rem; padding-bottom: 4rem; max-width: 74rem;}
  h1 {font-size: 1.9rem !important; font-weight: 650 !important; padding-top: 0 !important;}
  h2 {font-size: 1.35rem !important; font-weight: 620 !important;}
  h3 {font-size: 1.1rem !important; font-weight: 620 !important;}
  [data-testid="stMain"] [data-testid="stPageLink"] a {
    border: 1px solid rgba(128, 128, 128, .45); border-radius: 4px; padding: .45rem .75rem;
  }
  [data-testid="stCaptionContainer"] {color: inherit; opacity: .82;}
  [data-testid="stCaptionContainer"] p {color: inherit;}
  [class*="st-key-file-text"] textarea {
    font-family: ui-monospace, "DejaVu Sans Mono", Consolas, monospace; font-size: .85rem; white-space: pre; overflow-x: auto;
  }
  @media (max-width: 640px) {
    .block-container {padding-left: 1rem; padding-right: 1rem; padding-top: 4.25rem;}
    h1 {font-size: 1.55rem !important;}
  }
</style>
"""


#: In the dark, what can be pressed is light, so the text on it is dark.
_DARK_STYLE = f"""
<style>
  [data-testid="stBaseButton-primary"], [data-testid="stBaseButton-primary"] p {{color: {DARK.ground} !important;}}
</style>
"""


def theme_settings() -> dict[str, Any]:
    """Settings of the server for our colours, by their names: ``theme.light.primaryColor`` and the like."""
    settings: dict[str, Any] = {"theme.baseFontSize": 16}
    for theme in (LIGHT, DARK):
        settings |= {f"theme.{theme.name}.{key}": value for key, value in _colours(theme).items()}
    return settings


def _colours(theme: Theme) -> dict[str, Any]:
    return {
        "primaryColor": _PRESSED[theme.name],
        "backgroundColor": theme.ground,
        "secondaryBackgroundColor": _APART[theme.name],
        "textColor": theme.text,
        "linkColor": _LINKS[theme.name],
        "borderColor": theme.grid,
        "font": FONT,
        "baseRadius": "4px",
        "showWidgetBorder": True,
        "sidebar.backgroundColor": _APART[theme.name],
        "sidebar.secondaryBackgroundColor": theme.ground,
    }


def theme_name() -> ThemeName:
    """The variant that this browser shows, for the charts on the page."""
    return "dark" if st.context.theme.type == "dark" else "light"


def dress_page() -> None:
    """Put our spacing and sizes on the page."""
    st.html(_STYLE if theme_name() == "light" else _STYLE + _DARK_STYLE)


def side_by_side(count: int, across: int) -> Iterator[DeltaGenerator]:
    """Places for so many controls, so many beside each other; on a phone they stand below each other in order."""
    for first in range(0, count, across):
        yield from st.columns(across)[: count - first]
