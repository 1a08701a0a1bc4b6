"""Prints the lowest versions that pyproject.toml allows, as constraints for pip: ``name==version``, one a line.

Of every library that the program and its tests need. What asks for another kind of version is refused, so that none is
left out in silence.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

#: A library that is needed on older Pythons only is tried there as well.
NEED = re.compile(r"([A-Za-z0-9][A-Za-z0-9._-]*)>=([0-9]+(?:\.[0-9]+)*)(?:; python_version < ['\"][0-9.]+['\"])?")


def lowest_versions(project: dict[str, Any]) -> list[str]:
    """``["numpy==2.0", ...]`` from the table ``[project]``, by name; where a name stands twice, the higher version."""
    found: dict[str, str] = {}
    for need in (*project["dependencies"], *project["optional-dependencies"]["test"]):
        match = NEED.fullmatch(need)
        if match is None:
            raise SystemExit(f'pyproject.toml: "{need}" names no lowest version; write it as name>=version')
        name, version = match.groups()
        found[name] = max(found.get(name, "0"), version, key=lambda text: [int(part) for part in text.split(".")])
    return [f"{name}=={version}" for name, version in sorted(found.items())]


if __name__ == "__main__":
    text = (Path(__file__).resolve().parents[1] / "pyproject.toml").read_text(encoding="utf-8")
    print("\n".join(lowest_versions(tomllib.loads(text)["project"])))
