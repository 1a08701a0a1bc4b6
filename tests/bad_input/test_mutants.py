"""Mutated scenarios and files of orders are run within limits, or refused at once with place and mend.

``--mutants 20000`` tries so many, in processes of 500 whose memory and time are bounded; ``python
tests/bad_input/mutate.py NUMBER`` prints one that a failure names.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from shopsim.cli import main

from .mutate import Mutant, mutate, read_examples
from .try_mutants import MEMORY, REFUSE_S, Tally, try_mutant

TESTS = Path(__file__).parents[1]
#: Mutants that one process tries.
A_PROCESS = 500


def try_in_process(first: int, last: int) -> dict[str, Any]:
    """The tally of some mutants; one that ends the process is named."""
    done = subprocess.run(
        [sys.executable, "-m", "bad_input.try_mutants", str(first), str(last)],
        cwd=TESTS,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "PYTHONPATH": str(TESTS.parent)},
        capture_output=True,
        text=True,
        check=False,
    )
    tried = [line for line in done.stderr.splitlines() if line.isdigit()]
    assert done.returncode == 0, (
        f"at mutant {tried[-1:]} the process ended with {done.returncode}: {done.stderr[-500:]}"
    )
    tally: dict[str, Any] = json.loads(done.stdout)
    return tally


def test_every_mutant_is_run_or_refused_at_once(pytestconfig: pytest.Config) -> None:
    wanted = pytestconfig.getoption("--mutants")
    counts: Counter[str] = Counter()
    findings: dict[str, list[str]] = {}
    slowest_refusal, slowest, peak_mb = (0.0, -1), (0.0, -1), 0.0
    for first in range(0, wanted, A_PROCESS):
        tally = try_in_process(first, min(first + A_PROCESS, wanted))
        counts.update(tally["counts"])
        findings |= tally["findings"]
        slowest_refusal = max(slowest_refusal, tuple(tally["slowest_refusal"]))
        slowest = max(slowest, tuple(tally["slowest"]))
        peak_mb = max(peak_mb, tally["peak_mb"])
    said = f"{dict(counts)}, slowest refusal {slowest_refusal}, slowest {slowest}, most memory {peak_mb:.0f} MB"
    print(said)
    assert findings == {}, said
    assert counts["refused"] + counts["ran"] == wanted
    assert min(counts["refused"], counts["ran"]) > wanted // 10  # neither all nothing but noise, nor all harmless
    assert slowest_refusal[0] < REFUSE_S
    assert peak_mb * 1024 * 1024 < MEMORY


def test_the_same_number_is_the_same_mutant_and_most_are_unlike_the_examples() -> None:
    examples = read_examples()
    mutants = [mutate(number, examples) for number in range(200)]
    assert mutants == [mutate(number, examples) for number in range(200)]
    assert sum(mutant.text in examples for mutant in mutants) < 40
    assert sum(bool(mutant.beside) for mutant in mutants) > 15


def test_what_goes_wrong_with_a_mutant_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """A refusal that crashes, and one that says nothing, are findings: the check can fail."""
    module = sys.modules[try_mutant.__module__]

    def crash(*_words: object, **_options: object) -> object:
        raise ZeroDivisionError("of this test")

    monkeypatch.setattr(module, "read_scenario_text", crash)
    assert "ZeroDivisionError" in try_mutant(Mutant(b"", {}), 1, Tally())[0]
    monkeypatch.undo()
    reading = module.read_scenario_text(b"")  # type: ignore[attr-defined]
    monkeypatch.setattr(module, "read_scenario_text", lambda *_words, **_options: reading._replace(faults=()))
    assert try_mutant(Mutant(b"", {}), 1, Tally()) == ["no scenario and no faults"]


def test_the_command_takes_mutants_without_a_traceback(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    examples = read_examples()[1:2]  # the smallest
    codes: Counter[int] = Counter()
    for number in range(40):
        mutant = mutate(number, examples)
        (tmp_path / "shop.toml").write_bytes(mutant.text)
        for name, data in mutant.beside.items():
            (tmp_path / name).write_bytes(data)
        code = main(["check", str(tmp_path / "shop.toml")])
        said = capsys.readouterr()
        codes[code] += 1
        assert "Traceback" not in said.err
        assert bool(said.out) == (code == 0)
        assert code != 2 or "shop.toml" in said.err or "orders.csv" in said.err
    assert set(codes) <= {0, 1, 2}
    assert min(codes[0], codes[2]) >= 5
