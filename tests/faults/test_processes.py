"""It holds that the command behaves as a process should: exit codes, Ctrl-C, pipes, the same bytes every time."""

from __future__ import annotations

import contextlib
import json
import os
import pty
import re
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from .processes import MAX_WAIT_S, TOP, is_running, processor_seconds, wait_until, workers_of

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("simpy_only")]  # worker processes are the SimPy model's

COMMAND = [sys.executable, "-m", "shopsim.cli"]


def run(*words: object, **options: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*COMMAND, *map(str, words)],
        capture_output=True,
        text=True,
        check=False,
        cwd=TOP,
        env={**os.environ, "PYTHONIOENCODING": "", **options},
    )


def test_exit_codes_are_0_when_done_and_2_when_the_file_or_command_is_wrong(trays: Path, tmp_path: Path) -> None:
    assert run("check", trays).returncode == 0
    assert run("check", tmp_path / "none.toml").returncode == 2
    assert run("chekc", trays).returncode == 2
    assert run().returncode == 2


def test_the_same_seed_gives_the_same_bytes_in_two_processes_and_on_any_number_of_cores(trays: Path) -> None:
    words = ("batches", trays, "--replications", 24, "--seed", 11, "--json")
    first = run(*words, "--jobs", 1, PYTHONHASHSEED="1")
    second = run(*words, "--jobs", 2, PYTHONHASHSEED="2")
    assert first.returncode == second.returncode == 0
    assert first.stdout == second.stdout
    assert json.loads(first.stdout)["seed"] == 11


def test_a_reader_that_leaves_early_is_no_error(trays: Path) -> None:
    process = subprocess.Popen(
        [*COMMAND, "once", str(trays), "--json", "--set", "run.orders=300"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=TOP,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.read(10)
    process.stdout.close()
    complaints = process.stderr.read()
    process.stderr.close()
    assert process.wait(timeout=MAX_WAIT_S) == 0
    assert complaints == b""


def test_a_full_disk_behind_the_output_is_told(trays: Path) -> None:
    with open("/dev/full", "w", encoding="utf-8") as full:
        done = subprocess.run(
            [*COMMAND, "once", str(trays), "--likely"],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
            cwd=TOP,
        )
    assert done.returncode == 2
    assert done.stderr == "the output cannot be written: no space left on device\n"


def test_no_output_at_all_is_no_error(trays: Path) -> None:
    words = " ".join([*COMMAND, "once", str(trays), "--likely", ">&-"])
    done = subprocess.run(["sh", "-c", words], stderr=subprocess.PIPE, text=True, check=False, cwd=TOP)
    assert (done.returncode, done.stderr) == (0, "")


def test_what_a_plain_terminal_cannot_show_is_replaced_and_files_and_pipes_are_utf8(trays: Path) -> None:
    text = trays.read_text(encoding="utf-8").replace("Six trays", "Vier Tabletts für Zoë ✓")
    trays.write_text(text, encoding="utf-8")
    done = subprocess.run(
        [*COMMAND, "once", str(trays), "--likely"],
        capture_output=True,
        check=False,
        cwd=TOP,
        env={**os.environ, "LC_ALL": "C", "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"},
    )
    assert done.returncode == 0
    assert "Vier Tabletts für Zoë ✓" in done.stdout.decode("utf-8")


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM], ids=["Ctrl-C", "told to end"])
def test_stopping_ends_with_what_is_done_and_leaves_no_process_behind(trays: Path, number: signal.Signals) -> None:
    words = ["batches", str(trays), "--replications", "100000", "--jobs", "2"]
    with subprocess.Popen(
        [*COMMAND, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=TOP, start_new_session=True
    ) as process:
        wait_until(
            lambda: (
                process.poll() is not None
                or sum(processor_seconds(worker) > 1.4 for worker in workers_of(process.pid)) >= 2
            ),
            "two workers are at work",
        )
        assert process.poll() is None, process.communicate()
        workers = workers_of(process.pid)
        os.killpg(process.pid, number) if number == signal.SIGINT else process.send_signal(number)
        out, err = process.communicate(timeout=MAX_WAIT_S)
    assert process.returncode == 3
    assert "Traceback" not in err
    assert err.startswith("stopped ")
    assert ("Batch size" in out) == ("before the end: rests on" in err)  # how far it came is the machine's affair
    wait_until(lambda: not any(is_running(worker) for worker in workers), "the workers end")


def test_a_single_run_can_be_stopped_without_a_traceback(trays: Path) -> None:
    with subprocess.Popen(
        [*COMMAND, "check", str(trays), "--deep", "--replications", "100000"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=TOP,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),  # whoever began the tests
    ) as process:
        wait_until(lambda: process.poll() is not None or processor_seconds(process.pid) > 6, "runs are made")
        assert process.poll() is None, process.communicate()
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=MAX_WAIT_S)
    assert process.returncode == 3
    assert out == ""
    assert "stopped after" in err
    assert "Traceback" not in err


def test_a_terminal_sees_how_far_it_is_while_the_result_stays_clean(trays: Path) -> None:
    ours, theirs = pty.openpty()
    seen: list[bytes] = []

    def read_on() -> None:  # as a terminal does; what nobody reads holds a program up
        with contextlib.suppress(OSError):  # its last writer is gone
            while some := os.read(ours, 4096):
                seen.append(some)

    reader = threading.Thread(target=read_on)
    words = ["batches", str(trays), "--replications", "300", "--jobs", "1", "--json"]
    with subprocess.Popen([*COMMAND, *words], stdout=subprocess.PIPE, stderr=theirs, text=True, cwd=TOP) as process:
        os.close(theirs)
        reader.start()
        out, _ = process.communicate(timeout=MAX_WAIT_S)
    reader.join()
    os.close(ours)
    assert process.returncode == 0
    shown = [(int(done), int(of)) for done, of in re.findall(rb"(\d+)/(\d+)", b"".join(seen))]
    told = json.loads(out)
    assert told["replications"] == 200  # of whatever is told by then; more of what is not
    assert shown[-1][0] == shown[-1][1] >= 200 * len(told["rows"])
