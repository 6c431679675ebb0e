"""The command line: which command, with what, and the exit code. Every command imports what it needs when it runs."""

import argparse
import contextlib
import io
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from aligner import __version__
from aligner.errors import AlignerError, Exit, UsageError

Command = Callable[[argparse.Namespace], Exit]
_WAYS = ("resonance", "level", "wand", "stage-voltage")
_MOST_SPREAD = 5.0  # beyond it a virtual set may draw a coil or capacitor of less than nothing
_LONGEST_MESSAGE = 20_000  # a procedure may have very many faults
_CODES = (
    "exit codes: 0 done, 1 a fault of ours (a crash file is named), 2 command line or procedure, 3 input ended or "
    "interrupted (the job is kept), 4 instrument, 5 disk or job file"
)


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command and return its exit code; whatever is no error of ours to foresee becomes a crash file."""
    _open_what_is_closed()
    _forgive_encodings()
    arguments = _parser().parse_args(argv)
    try:
        return _run(arguments)
    except KeyboardInterrupt:
        _say(
            "Interrupted; nothing is kept of it."
            if arguments.run is _rehearse
            else "Interrupted. What was taken is kept."
        )
        return Exit.INPUT_ENDED
    except BrokenPipeError:
        _drop_output()
        return Exit.INPUT_ENDED
    except AlignerError as error:
        if error.exit_code is not Exit.OUR_BUG:
            _say(str(error))
            return error.exit_code
        return _crashed(error)
    except Exception as error:  # noqa: BLE001 - the outermost edge: what comes here is a fault of ours
        return _crashed(error)


def _run(arguments: argparse.Namespace) -> Exit:
    from aligner.log import log_event, log_failure, start_log, stop_log

    start_log()
    log_event("begin")
    try:
        command: Command = arguments.run
        code = command(arguments)
        if sys.stdout is not None:
            sys.stdout.flush()
        log_event("end", code=code)
    except BaseException as error:
        log_failure("ended by", error)
        raise
    finally:
        stop_log()
    return code


def _crashed(error: Exception) -> Exit:
    from aligner.crash import write_crash

    path = write_crash(error)
    where = f"What is needed to find it is in {path}" if path else "No crash file could be written"
    _say(f"A fault of the program itself: {type(error).__name__}. {where}. What was taken is kept.")
    return Exit.OUR_BUG


def _screens(arguments: argparse.Namespace) -> Exit:
    _demand_terminal()
    from aligner.screens.pace import hurry

    hurry()
    from aligner.screens.app import run

    code = run(_jobs(arguments), demo=arguments.demo)
    if code == Exit.DONE:
        _say_what_is_kept(_jobs(arguments))
    return code


def _say_what_is_kept(jobs_folder: Path) -> None:
    """How to go on with what was left unfinished."""
    from aligner.journal.listing import summaries

    left = sum(not row.closed and not row.fault for row in summaries(jobs_folder))
    if left:
        _say(f"{left} unfinished job{'s are' if left > 1 else ' is'} kept. To go on: aligner, then Enter.")


def _list_jobs(arguments: argparse.Namespace) -> Exit:
    from aligner.journal.listing import print_jobs

    print_jobs(_jobs(arguments), sys.stdout)
    return Exit.DONE


def _pipe(arguments: argparse.Namespace) -> Exit:
    from aligner.pipe import run

    streams = (sys.stdin.buffer, sys.stdout.buffer)
    return run(arguments.what, _jobs(arguments), *streams, by=arguments.by, name=arguments.name)


def _check(arguments: argparse.Namespace) -> Exit:
    if arguments.plan:
        from aligner.sheet.plan_command import check_plan

        return check_plan(arguments.file, sys.stdout, as_json=arguments.json)
    if arguments.json:
        raise UsageError("--json goes with --plan: write `aligner check FILE --plan --json`.")
    from aligner.procedure.check_command import check

    return check(arguments.file, sys.stdout)


def _listen(arguments: argparse.Namespace) -> Exit:
    from aligner.readings.lines import Want
    from aligner.readings.listen import run

    shown = {"limit": arguments.lines, "raw": arguments.raw, "want": Want(arguments.unit)}
    return run(arguments.port, arguments.baud, sys.stdout, sys.stderr, **shown)


def _rehearse(arguments: argparse.Namespace) -> Exit:
    from aligner.rehearsal.command import run

    return run(
        arguments.procedure,
        sets=arguments.sets,
        seed=arguments.seed,
        by=arguments.by,
        as_json=arguments.json,
        spreads=arguments.spreads,
        blunders=arguments.blunders,
    )


def _version(_: argparse.Namespace) -> Exit:
    print(f"aligner {__version__}")
    return Exit.DONE


def _parser() -> argparse.ArgumentParser:
    jobs = argparse.ArgumentParser(add_help=False)
    what = "the folder of jobs (default: the user's data folder)"
    jobs.add_argument("--jobs", metavar="FOLDER", type=Path, help=what)
    top = argparse.ArgumentParser(
        prog="aligner",
        description="Leads a person through the alignment of a superheterodyne receiver, one adjuster at a time. "
        "Without a command: the screens, with the list of jobs.",
        epilog=_CODES,
        parents=[jobs],
    )
    top.set_defaults(run=_screens, demo=False)
    # What stands before the command must not be undone by the default of the command's own --jobs.
    jobs_after = argparse.ArgumentParser(add_help=False, argument_default=argparse.SUPPRESS)
    jobs_after.add_argument("--jobs", metavar="FOLDER", type=Path, help="the folder of jobs")
    commands = top.add_subparsers(title="commands", metavar="COMMAND")

    def add(name: str, run: Command, words: str, *, with_jobs: bool = False) -> argparse.ArgumentParser:
        parents = [jobs_after] if with_jobs else []
        parser = commands.add_parser(name, help=words, description=words, parents=parents)
        parser.set_defaults(run=run)
        return parser

    add("demo", _screens, "Align a virtual set by hand on the screen.", with_jobs=True).set_defaults(demo=True)
    add("jobs", _list_jobs, "List the jobs.", with_jobs=True)
    words = "Run a job by JSON Lines: asks and notices on standard output, answers on input."
    pipe = add("pipe", _pipe, words, with_jobs=True)
    pipe.add_argument("what", metavar="JOB-OR-PROCEDURE", help="a job (file or name) to go on with, or a procedure")
    pipe.add_argument("--name", help="the name of the set, for a new job")
    pipe.add_argument("--by", choices=_WAYS, help="the way of seeing to begin with, where a step lists several")
    check = add("check", _check, "Check a procedure file and name every fault.")
    check.add_argument("file", metavar="FILE", help="a procedure file, or the name of a shipped procedure")
    what = "what to expect before a job: parts, tracking, image, counter readings"
    check.add_argument("--plan", action="store_true", help=what)
    check.add_argument("--json", action="store_true", help="the plan as one JSON object")
    _add_listen(add("listen", _listen, "Show each line of a serial port as received and as understood."))
    _add_rehearse(add("rehearse", _rehearse, "Run a whole procedure on many virtual sets."))
    add("version", _version, "Show the version.")
    return top


def _add_listen(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("port", metavar="PORT", help="a serial port, or socket://HOST:PORT")
    parser.add_argument("--baud", type=_count, default=9600, help="symbols a second (default: 9600)")
    parser.add_argument("--unit", choices=("Hz", "dB", "V"), default="Hz", help="what is read (default: Hz)")
    parser.add_argument("--lines", type=_count, metavar="N", help="end after so many lines (default: Ctrl-C ends)")
    parser.add_argument("--raw", action="store_true", help="show the lines only as received")


def _add_rehearse(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("procedure", metavar="PROCEDURE", help="a procedure file, or the name of a shipped procedure")
    parser.add_argument("--sets", type=_count, default=100, metavar="N", help="how many sets (default: 100)")
    parser.add_argument("--seed", type=int, default=1, metavar="S", help="which sets are drawn (default: 1)")
    parser.add_argument("--by", choices=_WAYS, help="the way of seeing, where a step lists several")
    parser.add_argument("--json", action="store_true", help="one JSON object instead of a table")
    parser.add_argument("--spreads", type=_factor, default=1.0, metavar="X", help="all spreads times X (default: 1)")
    parser.add_argument("--blunders", action="store_true", help="with blunders in typing, as the population says")


def _count(text: str) -> int:
    if not (text.isascii() and text.isdigit() and int(text[:9]) >= 1 and len(text) < 9):
        raise argparse.ArgumentTypeError("a whole number from 1 on is wanted")
    return int(text)


def _factor(text: str) -> float:
    try:
        factor = float(text)
    except ValueError:
        factor = 0.0
    if not 0 < factor <= _MOST_SPREAD:
        raise argparse.ArgumentTypeError(f"a factor above 0 and up to {_MOST_SPREAD:g} is wanted")
    return factor


def _jobs(arguments: argparse.Namespace) -> Path:
    from aligner.journal.names import jobs_folder

    chosen: Path | None = arguments.jobs
    return jobs_folder(chosen)


def _demand_terminal() -> None:
    """UsageError where there is no terminal that screens could be drawn on."""
    if os.environ.get("TEXTUAL_DRIVER"):
        return  # served to a browser: the framework's own driver stands in for the terminal
    streams = (sys.stdin, sys.stdout)
    if os.environ.get("TERM") == "dumb" or not all(stream is not None and stream.isatty() for stream in streams):
        raise UsageError(
            "The screens need a terminal, and there is none here. "
            "`aligner pipe PROCEDURE` leads through the same job line by line; `aligner pipe --help` says how."
        )


def _open_what_is_closed() -> None:
    """Streams that were closed before us lead nowhere; else the next file opened, a job, would take their place."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            nowhere = Path(os.devnull).open(mode, encoding="utf-8")  # noqa: SIM115 - it lasts as long as the program
            setattr(sys, name, nowhere)


def _forgive_encodings() -> None:
    """A console that lacks a sign shows a question mark for it; that is no reason to fail."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def _say(text: str) -> None:
    """Say something on the error stream, if anybody can still hear it; it may quote a file that others wrote."""
    from aligner.text import clean

    with contextlib.suppress(OSError, ValueError):
        print(clean(text, _LONGEST_MESSAGE, lines=True), file=sys.stderr)


def _drop_output() -> None:
    """Let the interpreter's last flush go nowhere, for the reader of our output is gone."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
