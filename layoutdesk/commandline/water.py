"""layoutdesk water."""

from __future__ import annotations


def add_water(commands) -> None:
    """The command and its options."""
    parser = commands.add_parser("water", help="water of a project")
    parser.set_defaults(run=lambda options: 2)
