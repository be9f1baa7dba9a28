"""A bar on standard error that says how far a long run is."""

from __future__ import annotations

import sys
import time

_WIDTH = 24
_EVERY_S = 0.2
_LINE_EVERY_S = 10.0


class Progress:
    """Share done, things a second and the time left, on one line that is written over.

    Silent where standard error is no terminal, unless it is asked for: then now and then a line.
    """

    def __init__(self, things: str, asked: bool = False, stream=None):
        self._things = things
        self._stream = sys.stderr if stream is None else stream
        self._terminal = self._stream.isatty()
        self._shown = self._terminal or asked
        self._start_s = self._last_s = time.monotonic()
        self._first: int | None = None
        self._length = 0

    def show(self, done: int, expected: int, ended: bool = False) -> None:
        """Tell how many are done of how many; not more often than can be read."""
        now_s = time.monotonic()
        if self._first is None:
            self._first, self._start_s = done, now_s
            self._last_s = -_LINE_EVERY_S
        every_s = _EVERY_S if self._terminal else _LINE_EVERY_S
        if not self._shown or (now_s - self._last_s < every_s and not ended):
            return
        self._last_s = now_s
        text = progress_text(
            done, max(expected, done), now_s - self._start_s, done - self._first, self._things
        )
        if self._terminal:
            self._stream.write("\r" + text.ljust(self._length) + ("\n" if ended else ""))
            self._length = len(text)
        else:
            self._stream.write(text + "\n")
        self._stream.flush()

    def clear(self) -> None:
        """Leave the line free for a sentence."""
        if self._terminal and self._length:
            self._stream.write("\r" + " " * self._length + "\r")
            self._stream.flush()


def progress_text(done: int, expected: int, spent_s: float, since: int, things: str) -> str:
    """The bar in words.

    Parameters
    ----------
    done, expected : int
    spent_s : float
        Time of this run. [s]
    since : int
        How many were done in that time.

    Examples
    --------
    >>> progress_text(250, 1000, 10.0, 200, "parcels")
    '[######..................]  25 %  250 of 1,000 parcels  20.0/s  38 s left'
    """
    share = done / expected if expected else 1.0
    full = int(share * _WIDTH)
    bar = "#" * full + "." * (_WIDTH - full)
    text = f"[{bar}] {int(100 * share):>3} %  {done:,} of {expected:,} {things}"
    if since > 0 and spent_s > 0:
        rate = since / spent_s
        text += f"  {rate:.1f}/s"
        if done < expected:
            text += f"  {_time_words((expected - done) / rate)} left"
    return text


def _time_words(seconds: float) -> str:
    if seconds < 90:
        return f"{seconds:.0f} s"
    if seconds < 5400:
        return f"{seconds / 60:.0f} min"
    return f"{seconds / 3600:.1f} h"
