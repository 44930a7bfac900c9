"""The program: find the command, run it, and turn every error into one line and one exit status.

Exit status: 0 done; 2 the input was refused; 3 the computation failed or is outside what the model covers;
130 interrupted; 141 nobody reads the output any more.
"""

from __future__ import annotations

import io
import os
import sys
import warnings
from argparse import Namespace
from collections.abc import Iterator, Sequence
from contextlib import suppress

from kinetics import __version__
from kinetics.command_line.commands import all_commands
from kinetics.command_line.parser import PROGRAM, Parser, add_command, epilog_of

PURPOSE = "Cleavage of an unsaturated aldehyde in boiling carbonate water, computed."
NOTES = f"""first steps:
  {PROGRAM} new my_batch.toml       a scenario to start from, with remarks
  {PROGRAM} run my_batch.toml       what comes of it
  {PROGRAM} COMMAND --help          more about one command, with an example

exit status: 0 done; 2 the input was refused; 3 the computation failed or is
outside what the model covers.

For teaching and the bench only. The numbers make no batch safe: read the
cautions that come with them."""


def build_parser() -> Parser:
    """The parser of the whole program."""
    listing = "\n".join(f"  {command.name:13}{command.help}" for command in all_commands())
    parser = Parser(prog=PROGRAM, description=PURPOSE, epilog=f"commands:\n{listing}\n\n{NOTES}")
    parser.add_argument(
        "--version", action="version", version=f"{PROGRAM} {__version__}", help="show the version"
    )
    commands = parser.add_subparsers(
        metavar="COMMAND", dest="command", parser_class=Parser, help="one of the commands below"
    )
    for command in all_commands():
        parser_of_command = commands.add_parser(
            command.name, description=command.help, epilog=epilog_of(command)
        )
        add_command(command, parser_of_command)
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Do what the arguments say (those of the process if None) and return the exit status."""
    args = Namespace(debug=False)
    try:
        try:
            parser = build_parser()
            args, unknown = parser.parse_known_args(arguments)
            if unknown:
                getattr(args, "parser", parser).error(f"unrecognized arguments: {' '.join(unknown)}")
            if args.command is None:
                parser.print_help(sys.stderr)
                return 2
            return args.execute(args)
        finally:
            sys.stdout.flush()
    except SystemExit as stop:  # how argparse ends after --help and after a fault
        return stop.code if isinstance(stop.code, int) else 2
    except (Exception, KeyboardInterrupt) as error:
        return explain(error, args.debug)


def explain(error: BaseException, debug: bool) -> int:
    """Say on the error output what happened, with the traceback only for `debug`; return the exit status."""
    from kinetics.data.faults import RefusedInput

    if isinstance(error, BrokenPipeError):
        with suppress(OSError, ValueError):  # keeps Python from complaining once more when it ends
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 141
    if debug:
        import traceback

        traceback.print_exception(error)
    if isinstance(error, KeyboardInterrupt):
        sys.stderr.write("\nStopped before the end, as asked; no file was left half written.\n")
        return 130
    if isinstance(error, RefusedInput):
        sys.stderr.writelines(f"{line}\n" for line in fault_lines(error))
        return 2
    sys.stderr.write(f"{PROGRAM}: {failure_line(error)}\n")
    return 3


def fault_lines(error: BaseException) -> Iterator[str]:
    """One line for each fault of a refused input: where, at which key, what was expected, what came."""
    where = getattr(error, "where", "") or PROGRAM
    for fault in getattr(error, "faults", ()) or (error,):
        yield f"{where}: {' '.join(str(fault).split())}"


def failure_line(error: BaseException) -> str:
    """One line for a computation that failed, or for a fault of the program itself."""
    from kinetics.run.integrate import NumericalFailure

    said = " ".join(str(error).split())
    if isinstance(error, NumericalFailure):
        return f"the computation failed: {said}"
    return f"a fault of the program stopped it: {type(error).__name__}: {said} (--debug shows where)"


def entry() -> None:
    """Run the program for a shell: what a console cannot show is replaced, and warnings are not for users."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    if not sys.warnoptions:
        warnings.simplefilter("ignore")
    sys.exit(main())
