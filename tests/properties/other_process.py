"""Run as a script: reads scenarios as JSON from standard input and prints the digest of a run of each."""

from __future__ import annotations

import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from properties.changes import digest_record  # the tests folder has to be on the path first
from shopsim import parse_scenario, run_once


def main() -> None:
    """A line for each scenario: ``{"text": .., "orders": .., "seed": .., "replication": ..}``."""
    for asked in json.load(sys.stdin):
        scenario = parse_scenario(asked["text"], beside={"orders.csv": asked["orders"].encode()})
        print(digest_record(run_once(scenario, seed=asked["seed"], replication=asked["replication"]).record))


if __name__ == "__main__":
    main()
