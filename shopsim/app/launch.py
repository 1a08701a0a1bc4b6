"""Starts the server of the app with settings that are safe on a maker's own computer.

It listens to this computer alone, sends no usage statistics, takes no upload above the limit, answers no
other site, and shows no developer's tools and no traceback. ``.streamlit/config.toml`` says the same for
``streamlit run app.py``.
"""

from __future__ import annotations

import importlib.util
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
import webbrowser
from importlib.resources import files
from typing import Any

from shopsim.errors import InputError
from shopsim.limits import MAX_UPLOAD_MB

#: The address that only this computer can reach, and the usual port.
ADDRESS = "127.0.0.1"
PORT = 8501
#: Ports that are tried after the usual one when it is taken.
MORE_PORTS = 20

#: Settings of the server, but for colours.
SAFE_SETTINGS: dict[str, Any] = {
    "server.address": ADDRESS,
    "server.headless": True,
    "server.enableXsrfProtection": True,
    "server.enableCORS": True,
    "server.maxUploadSize": MAX_UPLOAD_MB,
    "server.enableStaticServing": False,
    "server.fileWatcherType": "none",
    "server.showEmailPrompt": False,
    "browser.gatherUsageStats": False,
    "client.toolbarMode": "minimal",
    "client.showErrorDetails": "none",
    "client.showErrorLinks": False,
    "runner.magicEnabled": False,
    "runner.postScriptGC": False,  # after every look at a job it would stop all sessions for a fifth of a second
    "logger.hideWelcomeMessage": True,
}


def all_settings() -> dict[str, Any]:
    """Every setting of the server by its name, colours included."""
    from shopsim.app.page_style import theme_settings

    return {**SAFE_SETTINGS, **theme_settings()}


def run_server(port: int | None = None, open_browser: bool = True) -> int:
    """Run the app until it is stopped with Ctrl-C; hand back an exit code.

    ``port``: default 8501, or the next free one. Raises InputError where streamlit is not installed
    or the port is taken.
    """
    if importlib.util.find_spec("streamlit") is None:
        raise InputError('the app needs streamlit, which is not installed · pip install "shopsim[app]"')
    chosen = _free_port(port)
    address = f"http://{ADDRESS}:{chosen}"
    command = server_command(chosen)
    server = subprocess.Popen(command)
    signal.signal(signal.SIGTERM, lambda *_: server.terminate())  # whoever ends this ends the server with it
    sys.stderr.write(f"The app runs at {address} on this computer alone; stop it with Ctrl-C.\n")
    sys.stderr.flush()
    if open_browser:
        threading.Thread(target=_open_when_ready, args=(address, server), daemon=True).start()
    try:
        return 1 if server.wait() > 0 else 0
    except KeyboardInterrupt:
        return 0
    finally:
        _end(server)


def server_command(port: int) -> list[str]:
    """The command that starts the server on a port."""
    script = files("shopsim.app.entry") / "small_batches.py"
    command = [sys.executable, "-m", "streamlit", "run", str(script), f"--server.port={port}"]
    return [*command, *(f"--{name}={_say(value)}" for name, value in all_settings().items())]


def _say(value: Any) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def _free_port(port: int | None) -> int:
    if port is not None:
        if not _is_free(port):
            raise InputError(f"port {port} is taken by another program · name another one with --port")
        return port
    for candidate in range(PORT, PORT + MORE_PORTS):
        if _is_free(candidate):
            return candidate
    raise InputError(f"ports {PORT} to {PORT + MORE_PORTS - 1} are all taken · name another one with --port")


def _is_free(port: int) -> bool:
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        if sys.platform != "win32":
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((ADDRESS, port))
        except OSError:
            return False
    return True


def _open_when_ready(address: str, server: subprocess.Popen[bytes]) -> None:
    for _ in range(120):
        if server.poll() is not None:
            return
        try:
            with urllib.request.urlopen(f"{address}/_stcore/health", timeout=1):
                webbrowser.open(address)
                return
        except (urllib.error.URLError, OSError):
            time.sleep(0.25)


def _end(server: subprocess.Popen[bytes]) -> None:
    """End the server if it is still there: politely, and after five seconds for good."""
    if server.poll() is not None:
        return
    server.terminate()
    try:
        server.wait(5)
    except subprocess.TimeoutExpired:
        server.kill()
        server.wait()
