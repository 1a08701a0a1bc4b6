"""``shopsim app``: the screen in a browser on the same computer."""

from __future__ import annotations

import argparse

from shopsim.app.launch import run_server


def run_command(args: argparse.Namespace) -> int:
    """Serve the app until it is ended."""
    return run_server(args.port, not args.no_browser)
