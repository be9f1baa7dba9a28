"""The picture under the plan as requests and answers, and the making of its reduced copies."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from ..core.model import SiteFrame
from .view import View

if TYPE_CHECKING:
    from ..formats.backdrop import BackdropSource

MARGIN = 0.25
"""Asked for beyond what is seen, on each side, as a share of it: a small pan needs no new picture."""

_ANSWERS_KEPT = 4


def cache_place() -> Path:
    """Folder of the reduced copies: the user's cache."""
    from platformdirs import user_cache_path

    return user_cache_path("layoutdesk", appauthor=False) / "backdrops"


def picture_file(path: str, project_path=None) -> Path:
    """Where a picture is now: at its path, else beside the project file it moved with.

    The path as kept is tried first, then taken from the project's folder, then its name alone there.
    Where none is there, the path as kept.
    """
    kept = Path(path)
    tries = [kept]
    if project_path is not None:
        folder = Path(project_path).absolute().parent
        name = path.replace("\\", "/").rsplit("/", 1)[-1]  # kept by another system, perhaps
        tries = [*([kept] if kept.is_absolute() else []), folder / kept, folder / name]
    return next((file for file in tries if file.is_file()), kept)


@dataclass(frozen=True, eq=False)
class BackdropRequest:
    """Ask for the picture of a piece of the frame; `number` tells requests apart.

    `bounds_m` is x0, y0, x1, y1 in the frame; `width` and `height` are pixels.
    """

    number: int
    source: BackdropSource = field(repr=False)
    frame: SiteFrame = field(repr=False)
    bounds_m: tuple[float, float, float, float]
    width: int
    height: int

    def suits(self, view: View) -> bool:
        """Whether its picture shows all that is seen, at the view's scale."""
        x0, y0, x1, y1 = self.bounds_m
        a0, b0, a1, b1 = view.bounds_m
        slack = 1e-6 * (x1 - x0)
        within = x0 <= a0 + slack and y0 <= b0 + slack and a1 <= x1 + slack and b1 <= y1 + slack
        return within and abs(self.width / (x1 - x0) / view.scale - 1) < 1e-6


@dataclass(frozen=True, eq=False)
class BackdropAnswer:
    """A picture for a request: uint8 (height, width, 4), north up, transparent where there is none.

    `coarse` says that the raster's reduced copies are not made yet.
    """

    request: BackdropRequest
    rgba: np.ndarray = field(repr=False)
    coarse: bool = False


def request_for(
    number: int, source: BackdropSource, frame: SiteFrame, view: View, margin: float = MARGIN
) -> BackdropRequest:
    """A request for what a view shows and somewhat more, pixel on pixel with the view."""
    more_x, more_y = round(view.width * margin), round(view.height * margin)
    x0, y0, x1, y1 = view.bounds_m
    return BackdropRequest(
        number,
        source,
        frame,
        (
            x0 - more_x / view.scale,
            y0 - more_y / view.scale,
            x1 + more_x / view.scale,
            y1 + more_y / view.scale,
        ),
        view.width + 2 * more_x,
        view.height + 2 * more_y,
    )


class Backdrops:
    """Answers backdrop requests; the file stays open and the last few pictures are kept.

    One thread at a time is let in. Close it when the picture is taken away.
    """

    def __init__(self, cache_folder=None):
        self._cache_folder = cache_folder
        self._reader = None
        self._kept: list[BackdropAnswer] = []
        self._lock = threading.Lock()

    def answer(self, request: BackdropRequest) -> BackdropAnswer:
        """The picture of a request.

        Raises
        ------
        InputProblem
            Where the file is gone, changed or damaged.
        """
        from ..formats.backdrop import BackdropReader

        with self._lock:
            for kept in self._kept:
                if _alike(kept.request, request):
                    return BackdropAnswer(request, kept.rgba, kept.coarse)
            reader = self._reader
            if (
                reader is None
                or reader.source is not request.source
                or reader.frame != request.frame
            ):
                self._forget()
                folder = self._cache_folder if self._cache_folder is not None else cache_place()
                reader = self._reader = BackdropReader(request.source, request.frame, folder)
            try:
                picture = reader.picture(request.bounds_m, request.width, request.height)
            except BaseException:
                self._forget()  # a file that was put back is opened anew
                raise
            answer = BackdropAnswer(request, picture.rgba, picture.coarse)
            if not answer.coarse:  # a coarse one is bettered as soon as there are copies
                self._kept = [answer, *self._kept[: _ANSWERS_KEPT - 1]]
            return answer

    def _forget(self) -> None:
        if self._reader is not None:
            self._reader.close()
        self._reader, self._kept = None, []

    def close(self) -> None:
        """Close the file and forget the pictures."""
        with self._lock:
            self._forget()


def _alike(a: BackdropRequest, b: BackdropRequest) -> bool:
    return a.source is b.source and (a.frame, a.bounds_m, a.width, a.height) == (
        b.frame,
        b.bounds_m,
        b.width,
        b.height,
    )


class OverviewBuild:
    """The making of a large picture's reduced copies, on a thread of its own.

    `deliver(folder, problem)` is called once, on that thread: with the folder, or None where it was
    stopped, or the exception. With `threaded=False` all is done in `start`.

    Attributes
    ----------
    share : float
        What is done, 0 to 1.
    """

    def __init__(
        self,
        source: BackdropSource,
        deliver: Callable[[Path | None, BaseException | None], None],
        cache_folder=None,
        *,
        progress: Callable[[float], None] | None = None,
        threaded: bool = True,
    ):
        self.source, self.share = source, 0.0
        self._deliver, self._progress = deliver, progress
        self._cache_folder = cache_folder
        self._stopped = threading.Event()
        self._thread = None
        if threaded:
            self._thread = threading.Thread(
                target=self._run, name="layoutdesk reduced copies", daemon=True
            )

    def start(self) -> None:
        """Begin."""
        if self._thread is not None:
            self._thread.start()
        else:
            self._run()

    def cancel(self) -> None:
        """Stop soon, leaving nothing behind."""
        self._stopped.set()

    def wait(self, timeout_s: float = 30.0) -> bool:
        """Until it has ended; False where that took too long."""
        if self._thread is not None and self._thread.ident is not None:
            self._thread.join(timeout_s)
            return not self._thread.is_alive()
        return True

    def _run(self) -> None:
        from ..formats.backdrop_overviews import build_overviews

        folder, problem = None, None
        try:
            place = self._cache_folder if self._cache_folder is not None else cache_place()
            folder = build_overviews(self.source, place, self._tell)
        except Exception as raised:
            problem = raised
        self._deliver(folder, problem)

    def _tell(self, share: float) -> bool:
        self.share = share
        if self._progress is not None:
            self._progress(share)
        return not self._stopped.is_set()
