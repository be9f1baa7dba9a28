"""The command line: headless use of session and core, and the way into the window."""

from __future__ import annotations

import io
import signal
import sys

from .. import __version__
from ..core.model import InputProblem
from .compare import add_compare
from .hand_off import (
    add_as_staked,
    add_as_staked_undo,
    add_hand_off,
    add_hand_off_grids,
    add_verify,
)
from .lay import add_lay
from .materials import add_materials
from .options import Parser, asked_of
from .planting import add_planting, add_planting_read, add_planting_record, add_planting_tell
from .water import add_water

__all__ = ["COMMANDS", "asked_of", "main"]

COMMANDS = {
    "lay": add_lay,
    "compare": add_compare,
    "materials": add_materials,
    "water": add_water,
    "planting": add_planting,
    "planting read": add_planting_read,
    "planting record": add_planting_record,
    "planting tell": add_planting_tell,
    "hand-off": add_hand_off,
    "hand-off grids": add_hand_off_grids,
    "verify": add_verify,
    "as-staked": add_as_staked,
    "as-staked undo": add_as_staked_undo,
}
"""What adds each command's options to the parser, by the command's name of one word or two."""


def _command_parser() -> Parser:
    parser = Parser(
        prog="layoutdesk",
        description="Lay out, stake and follow a vineyard block.",
        epilog="layoutdesk [PROJECT_OR_OUTLINE] opens the window.",
    )
    parser.add_argument("--version", action="version", version=f"Layout Desk {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", parser_class=Parser)
    for add in COMMANDS.values():
        add(commands)
    return parser


def _stopped(signum, frame):
    raise KeyboardInterrupt


def main(argv: list[str] | None = None) -> int:
    """Run the program; the exit status is 0 when done, 2 for bad input or usage."""
    argv = list(sys.argv[1:] if argv is None else argv)
    if isinstance(sys.stdout, io.TextIOWrapper):  # a console that lacks a degree sign still works
        sys.stdout.reconfigure(errors="backslashreplace")
    signal.signal(signal.SIGTERM, _stopped)  # so that nothing half-written is left
    if " ".join(argv[:2]) in COMMANDS:
        argv = [" ".join(argv[:2]), *argv[2:]]
    try:
        if not argv or not (argv[0] in COMMANDS or argv[0].startswith("-")):
            if len(argv) > 1:
                raise InputProblem(
                    f"{argv[0]!r} is no command and {argv[1]!r} cannot follow a file: use layoutdesk "
                    "FILE for the window or layoutdesk lay FILE --out DIR (see layoutdesk --help)."
                )
            if argv and not argv[0].strip():
                raise InputProblem(
                    "The name of the file is empty: give an outline file or a project, or none."
                )
            from ..desk.start import open_window

            return open_window(argv[0] if argv else None)
        options = _command_parser().parse_args(argv)
        if options.command is None:
            raise InputProblem(
                f"A command is missing: layoutdesk {', '.join(COMMANDS)}, or layoutdesk FILE for the window."
            )
        return options.run(options)
    except InputProblem as problem:
        print(f"layoutdesk: {problem}", file=sys.stderr)
        return 2
    except BrokenPipeError:
        return 0
    except OSError as problem:
        where = problem.filename if problem.filename is not None else argv[-1]
        reason = problem.strerror or problem
        print(f"layoutdesk: {where} cannot be used ({reason}): give another.", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("layoutdesk: stopped; what was there before is unchanged.", file=sys.stderr)
        return 130
