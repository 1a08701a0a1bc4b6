"""It holds that the app listens to this computer alone, however it is started, and says in one message why it cannot."""

from __future__ import annotations

import importlib.util
import socket
import subprocess
import sys
import time
import tomllib
import urllib.request
from pathlib import Path
from typing import Any

import pytest

from shopsim.app import launch
from shopsim.app.launch import all_settings, server_command
from shopsim.cli import main

TOP = Path(__file__).resolve().parents[2]


def flatten(table: dict[str, Any], prefix: str = "") -> dict[str, Any]:
    flat: dict[str, Any] = {}
    for key, value in table.items():
        flat |= flatten(value, f"{prefix}{key}.") if isinstance(value, dict) else {f"{prefix}{key}": value}
    return flat


def test_both_ways_of_starting_it_set_the_same() -> None:
    assert flatten(tomllib.loads((TOP / ".streamlit" / "config.toml").read_text(encoding="utf-8"))) == all_settings()


def test_it_is_safe_by_default() -> None:
    settings = all_settings()
    assert settings["server.address"] == "127.0.0.1"
    assert settings["server.enableXsrfProtection"] is True
    assert settings["server.enableCORS"] is True
    assert settings["browser.gatherUsageStats"] is False
    assert settings["server.maxUploadSize"] == 5
    assert settings["client.showErrorDetails"] == "none"


def test_every_setting_is_one_that_the_server_knows() -> None:
    from streamlit import config

    known = set(config.get_config_options())
    assert set(all_settings()) <= known
    assert all(f"--{name}=" in " ".join(server_command(8501)) for name in all_settings())


def test_without_streamlit_one_message_says_how_to_get_it(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    find = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name, *rest: None if name == "streamlit" else find(name, *rest)
    )
    assert main(["app", "--no-browser"]) == 2
    said = capsys.readouterr()
    assert said.err.splitlines() == ['the app needs streamlit, which is not installed · pip install "shopsim[app]"']


def test_the_command_can_be_read_without_streamlit() -> None:
    code = "import sys; sys.modules['streamlit'] = None; import shopsim.app.launch, shopsim.cli; print('fine')"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.stdout == "fine\n", done.stderr


def test_a_port_that_is_taken_is_refused_with_exit_code_2(capsys: pytest.CaptureFixture[str]) -> None:
    with socket.create_server((launch.ADDRESS, 0)) as taken:
        port = taken.getsockname()[1]
        assert main(["app", "--no-browser", "--port", str(port)]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert line == f"port {port} is taken by another program · name another one with --port"


def test_without_a_port_the_next_free_one_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    with socket.create_server((launch.ADDRESS, 0)) as taken:
        port = taken.getsockname()[1]
        monkeypatch.setattr(launch, "PORT", port)
        assert port < launch._free_port(None) <= port + launch.MORE_PORTS
        monkeypatch.setattr(launch, "MORE_PORTS", 1)
        with pytest.raises(launch.InputError, match="are all taken"):
            launch._free_port(None)


@pytest.mark.slow
def test_the_command_serves_this_computer_alone_and_ends_when_it_is_told_to(tmp_path: Path) -> None:
    with socket.create_server((launch.ADDRESS, 0)) as probe:
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "shopsim.cli", "app", "--port", str(port), "--no-browser"]
    server = subprocess.Popen(command, cwd=tmp_path, stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    try:
        ready = f"http://127.0.0.1:{port}/_stcore/health"
        for _ in range(240):
            try:
                with urllib.request.urlopen(ready, timeout=5) as answer:
                    assert answer.status == 200
                    break
            except OSError:
                time.sleep(0.25)
        else:
            raise AssertionError("the server was not there after a minute")
        own = next((found[4][0] for found in socket.getaddrinfo(socket.gethostname(), port, socket.AF_INET) if not str(found[4][0]).startswith("127.")), None)  # fmt: skip
        if own is not None:
            with pytest.raises(OSError):
                socket.create_connection((str(own), port), timeout=5)
    finally:
        server.terminate()
        said = server.communicate(timeout=30)[1]
    assert "on this computer alone" in said
    assert "Traceback" not in said
    for _ in range(40):
        with socket.socket() as probe:
            if probe.connect_ex((launch.ADDRESS, port)) != 0:
                break
        time.sleep(0.25)
    else:
        raise AssertionError("the server goes on after its command has ended")
