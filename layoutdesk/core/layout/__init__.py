"""From a block and its rules to rows, posts and vines."""

from .rows import lay_rows

__all__ = ["lay_rows"]
