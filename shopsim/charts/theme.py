"""The colours and marks of our charts, light and dark: one mark a thing on all of them.

Colours were searched for so that any two differ by at least 20 CIELAB units, also as
people with deuteranopia and protanopia see them (simulated after Machado, Oliveira and
Fernandes 2009, severity 1.0), and stand out from the ground by at least 3 to 1. Colour
never tells anything alone: lines differ in dash and marker, bars in their pattern.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ThemeName = Literal["light", "dark"]

#: Font that every system has something for; no file is fetched.
FONT = "system-ui, -apple-system, 'Segoe UI', Roboto, 'DejaVu Sans', sans-serif"


@dataclass(frozen=True)
class Theme:
    """The colours of one variant: ground, text, lines of the grid, closed hours, and six series."""

    name: ThemeName
    ground: str
    text: str
    quiet: str
    grid: str
    shade: str
    idle: str
    closed: str
    series: tuple[str, ...]


LIGHT = Theme(
    name="light",
    ground="#ffffff",
    text="#1d232a",
    quiet="#525a63",
    grid="#dfe3e7",
    shade="#e6e9ed",
    idle="#ccd2d8",
    closed="#9aa3ad",
    series=("#223876", "#cc3b1f", "#2b8c78", "#2481d4", "#462b0e", "#4e2bb7"),
)

DARK = Theme(
    name="dark",
    ground="#15181c",
    text="#eceae4",
    quiet="#b4b9bf",
    grid="#343a41",
    shade="#282f37",
    idle="#4b535c",
    closed="#6d7782",
    series=("#8fb8f0", "#e0a52a", "#2f9a88", "#4f7fd0", "#f3e6c0", "#a0622a"),
)

THEMES: dict[str, Theme] = {"light": LIGHT, "dark": DARK}

#: What tells series apart beside their colour, in the order of the series.
DASHES = ("solid", "dash", "dot", "dashdot", "longdash", "longdashdot")

MARKERS = ("circle", "square", "diamond", "triangle-up", "x", "star")

PATTERNS = ("", "/", "x", ".", "\\", "-")


@dataclass(frozen=True)
class Mark:
    """How one named thing is drawn as a bar, in every chart the same: a series of the theme (or a
    neutral colour by name) and a pattern."""

    colour: int | Literal["idle", "closed"]
    pattern: str

    def colour_in(self, theme: Theme) -> str:
        """Its colour in a theme."""
        return theme.series[self.colour] if isinstance(self.colour, int) else str(getattr(theme, self.colour))


#: Marks of states and causes by their names in the tables.
MARKS: dict[str, Mark] = {
    "hands-on": Mark(0, ""),
    "working": Mark(0, ""),
    "set-up": Mark(3, "x"),
    "taking clamps off": Mark(2, "\\"),
    "in clamps": Mark(1, "/"),
    "held while curing": Mark(1, "/"),
    "held half done": Mark(5, "|"),
    "curing": Mark(2, "."),
    "nobody needed": Mark(3, "-"),
    "material": Mark(4, "."),
    "shop closed": Mark("closed", "+"),
    "closed": Mark("closed", "+"),
    "away": Mark("closed", "-"),
    "idle": Mark("idle", "."),
    "clamps": Mark(1, "x"),
    "rack": Mark(5, "|"),
    "station": Mark(3, "x"),
    "wet finish": Mark(3, "\\"),
    "worker": Mark(0, "-"),
    "does not fit before closing": Mark(4, "/"),
    "held back by the plan": Mark("idle", "x"),
    "batch-mates": Mark(5, "."),
    "other causes": Mark("idle", "|"),
    "unexplained": Mark(4, "|"),
}


def find_theme(theme: str) -> Theme:
    """The theme of a name; ValueError for any but "light" and "dark"."""
    if theme not in THEMES:
        raise ValueError(f'theme "{theme}" is not known · choose light or dark')
    return THEMES[theme]


def mark_for(name: str) -> Mark:
    """The mark of a state or cause; an unknown name is drawn like what is unexplained."""
    return MARKS.get(name, MARKS["unexplained"])
