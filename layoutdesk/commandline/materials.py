"""layoutdesk materials."""

from __future__ import annotations


def add_materials(commands) -> None:
    """The command and its options."""
    parser = commands.add_parser("materials", help="materials of a project")
    parser.set_defaults(run=lambda options: 2)
