"""A user's words made safe for the page: the markup that pages know stays text."""

from __future__ import annotations

import re

_SPECIAL = re.compile(r"([\\`*_{}\[\]()<>#+\-!|~$:&^=])")


def escape_markdown(text: object) -> str:
    """The text as markdown that shows it letter for letter, on one line."""
    return _SPECIAL.sub(r"\\\1", " ".join(str(text).split()))


def file_name(name: str, default: str = "scenario.toml") -> str:
    """A name for a file made plain: no folders, nothing that cannot be shown, at most 100 letters."""
    plain = re.split(r"[\\/]", str(name))[-1]
    plain = "".join(letter for letter in plain if letter.isprintable()).strip(" .")[:100]
    return plain or default
