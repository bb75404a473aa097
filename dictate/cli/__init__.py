"""The command line. Heavy things are imported only by the command that needs them: `dictate --help` answers at once."""

from __future__ import annotations

import os
import sys
from argparse import Namespace
from collections.abc import Callable, Sequence

from dictate.cli.arguments import make_parser
from dictate.errors import InputError

DONE, SOME_FAILED, FAULT, STOPPED = 0, 1, 2, 130


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status: 0 all done, 1 something given cannot be used, 2 wrong usage or a
    fault of the program, 130 stopped by the user. No traceback is shown unless DICTATE_DEBUG=1 is set."""
    options = make_parser().parse_args(argv)
    try:
        return _run(options.command)(options)
    except InputError as error:
        say(f"dictate: {error}")
        return SOME_FAILED
    except KeyboardInterrupt:
        say("dictate: stopped")
        return STOPPED
    except BrokenPipeError:  # the reader of our output has gone, as with `dictate schema | head`
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except Exception as error:
        return report_fault(error)


def _run(command: str) -> Callable[[Namespace], int]:
    if command == "draft":
        from dictate.cli.draft import run
    elif command == "transcribe":
        from dictate.cli.transcribe import run
    elif command == "explain":
        from dictate.cli.explain import run
    elif command == "convert":
        from dictate.cli.convert import run
    elif command == "review":
        from dictate.cli.review import run
    elif command == "compare":
        from dictate.cli.compare import run
    elif command == "export":
        from dictate.cli.export import run
    elif command == "store":
        from dictate.cli.store import run
    elif command == "verify":
        from dictate.cli.verify import run
    elif command == "exam":
        from dictate.cli.exam import run
    elif command == "microphones":
        from dictate.cli.microphones import run
    elif command == "schema":
        from dictate.cli.schema import run
    else:
        from dictate.cli.lexicon import run
    return run


def say(line: str) -> None:
    print(line, file=sys.stderr, flush=True)


def report_fault(error: BaseException, *, where: str = "") -> int:
    """Say a fault of the program in one line (all of it with DICTATE_DEBUG=1); the exit status for it."""
    if os.environ.get("DICTATE_DEBUG") == "1":
        import traceback

        traceback.print_exception(error)
    about = f"{where}: " if where else ""
    told = " ".join(str(error).split())
    say(f"dictate: {about}a fault of the program ({type(error).__name__}: {told}); DICTATE_DEBUG=1 shows where")
    return FAULT
