"""The command line: parse, call, print, exit code. ``main`` is what ``shopsim`` runs.

Exit codes: 0 done; 1 a run could not be carried through; 2 the file or the command is
wrong; 3 stopped before the end. Results go to standard output, everything else to
standard error.
"""

from __future__ import annotations

import os
import sys

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Sequence
    from types import FrameType

# Nothing else is loaded here: Ctrl-C is taken in by ``main``, so what comes before it has to be over at once.

DONE, FAILED, BAD_INPUT, STOPPED = 0, 1, 2, 3


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and hand back its exit code; prints, never raises for anything a user can cause.

    ``arguments``: the words after ``shopsim``; default those of this process, which this then looks after as a whole:
    Ctrl-C ends it at once while it loads, and has no effect any more when it is done.
    """
    own = arguments is None
    if own:
        _leave_on_ctrl_c(True)
    try:
        code = _run_and_flush(arguments)
    except KeyboardInterrupt:
        if own:
            _leave_on_ctrl_c(True)  # what is still to be written out may wait for a reader that never comes
        _complain("stopped")
        if own:
            _leave(STOPPED)
        code = STOPPED
    if own:
        _ignore_ctrl_c()
    return code


def _leave_on_ctrl_c(at_once: bool) -> None:
    """Have Ctrl-C end this process at once, or raise KeyboardInterrupt as usual; only where it has either effect now.

    ``_signal`` is what ``signal`` is made of, and needs no loading.
    """
    import _signal  # type: ignore[import-not-found]

    usual = _signal.default_int_handler
    if _signal.getsignal(_signal.SIGINT) in (usual, _leave_at_once):
        try:  # noqa: SIM105 (contextlib would have to be loaded)
            _signal.signal(_signal.SIGINT, _leave_at_once if at_once else usual)
        except ValueError:  # called in a thread, which no signal reaches
            pass


def _leave_at_once(_number: int, _frame: FrameType | None) -> None:
    """End the process while it loads or leaves: nothing is half done, and a module is not to be broken off."""
    try:  # noqa: SIM105
        os.write(2, b"stopped\n")
    except OSError:  # nobody is there to be told
        pass
    os._exit(STOPPED)


def _leave(code: int) -> None:
    """End the process with this code: Python's own way out would, after some interruptions, call it killed."""
    import contextlib

    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError):  # whoever was reading has left
            stream.flush()
    os._exit(code)


def _run_and_flush(arguments: Sequence[str] | None) -> int:
    try:
        _prepare_streams()
        code = _run(arguments)
        sys.stdout.flush()
    except BrokenPipeError:  # whoever was reading has left, which is their right
        _let_output_go()
        return DONE
    except OSError as error:  # files are looked after where they are written, so this is standard output
        _let_output_go()
        _complain(f"the output cannot be written: {(error.strerror or str(error)).lower()}")
        return BAD_INPUT
    return code


def _run(arguments: Sequence[str] | None) -> int:
    from shopsim.errors import Cancelled, InputError, RunError, ScenarioError, say_faults

    try:
        return _call(arguments)
    except SystemExit as leave:  # help and version leave with 0, a wrong command with 2
        return int(leave.code or 0)
    except ScenarioError as error:
        n_faults = len(error.faults)
        _complain(f"{say_faults(error.faults)}\n{n_faults} fault{'s' if n_faults != 1 else ''}")
        return BAD_INPUT
    except InputError as error:
        _complain(str(error))
        return BAD_INPUT
    except MemoryError:
        _complain("there is not enough memory for this · ask for fewer replications, orders or jobs")
        return FAILED
    except RunError as error:
        _complain(str(error))
        return FAILED
    except Cancelled as error:
        _complain(str(error))
        return STOPPED


def _call(arguments: Sequence[str] | None) -> int:
    # what a command needs is loaded once it is known which one it is, and where Ctrl-C is already taken in
    from shopsim.cli.options import build_parser, join_numbers

    args = build_parser().parse_args(join_numbers(sys.argv[1:] if arguments is None else arguments))
    if args.command == "check":
        from shopsim.cli.check_command import run_command
    elif args.command == "schema":
        from shopsim.cli.schema_command import run_command
    elif args.command == "once":
        from shopsim.cli.once_command import run_command
    elif args.command == "times":
        from shopsim.cli.times_command import run_command
    elif args.command == "log":
        from shopsim.cli.log_command import run_command
    elif args.command == "app":
        from shopsim.cli.app_command import run_command
    else:
        from shopsim.cli.studies import run_command
    if arguments is None:
        _leave_on_ctrl_c(False)
    return run_command(args)


def _complain(text: str) -> None:
    sys.stderr.write(f"{text}\n")
    sys.stderr.flush()


def _prepare_streams() -> None:
    """What goes into files and pipes is UTF-8 everywhere; what a screen cannot show is replaced, not an error."""
    import io

    if sys.stdout is None:
        sys.stdout = io.StringIO()
    if sys.stderr is None:
        sys.stderr = io.StringIO()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(encoding=None if stream.isatty() else "utf-8", errors="replace")


def _let_output_go() -> None:
    """Let what is still buffered for standard output go nowhere, quietly."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _ignore_ctrl_c() -> None:
    """From here on nothing is left to be stopped, and Python's own clearing up is not to be broken off."""
    import signal
    import threading

    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGINT, signal.SIG_IGN)
