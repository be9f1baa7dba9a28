"""Tasks done on a Dask cluster; its scheduler hands those of a lost worker to another."""

from __future__ import annotations

import contextlib
import logging
from concurrent.futures import CancelledError

from ..core.model import InputProblem
from .parcels_crew import WorkerDied
from .parcels_work import ParcelSettings, PartResult, Task, ready, work_parcels

_CONNECT_S = 10
_TASKS_A_THREAD = 2
"""Tasks that wait at each thread, so that none is idle while results travel."""

_RETRIES = 2


class ClusterCrew:
    """Workers of a cluster. Use as a context. Results come back as values; no worker writes a file."""

    def __init__(self, settings: ParcelSettings, address: str):
        self._settings, self._address = settings, address
        self._client = None
        self._begun: set = set()

    def __enter__(self) -> ClusterCrew:
        try:
            import distributed
            from distributed.comm.registry import get_backend
        except ImportError:
            raise InputProblem(
                "--scheduler needs the extra 'cluster': install it with pip install "
                "'layoutdesk[cluster]', or leave the option out to use this machine alone."
            ) from None
        for name in list(logging.root.manager.loggerDict):  # what matters is raised
            if name.partition(".")[0] in ("distributed", "tornado"):
                logging.getLogger(name).setLevel(logging.CRITICAL + 1)
        try:
            # A client of an address that is none would complain when it is thrown away.
            get_backend(distributed.comm.parse_address(self._address, strict=True)[0])
            self._client = distributed.Client(
                self._address, timeout=_CONNECT_S, set_as_default=False
            )
        except (OSError, ValueError, TimeoutError, RuntimeError, ImportError) as trouble:
            raise InputProblem(
                f"The scheduler {self._address!r} cannot be reached "
                f"({type(trouble).__name__}): check that it runs and give its address like "
                "tcp://host:8786, or leave --scheduler out."
            ) from None
        try:
            self._look_at_workers()
        except BaseException:
            self.__exit__()
            raise
        return self

    def __exit__(self, *_):
        with contextlib.suppress(Exception):
            self._client.cancel(list(self._begun), force=True)
        with contextlib.suppress(Exception):
            self._client.close(timeout=2)

    def _look_at_workers(self) -> None:
        """Refuse a cluster that would never answer, or would answer by other rules."""
        if not self._client.scheduler_info(n_workers=-1)["workers"]:
            raise InputProblem(
                f"The scheduler {self._address!r} has no worker: start some with dask worker "
                f"{self._address}, or leave --scheduler out."
            )
        try:
            versions = set(self._client.run(ready).values())
        except ImportError:
            versions = set()
        if versions != {ready()}:
            there = ", ".join(sorted(versions)) or "none"
            raise InputProblem(
                f"The workers of {self._address!r} need Layout Desk {ready()} and have {there}: "
                "install the same on all of them."
            )

    def free(self) -> bool:
        workers = self._client.scheduler_info(n_workers=-1)["workers"].values()
        threads = sum(w["nthreads"] for w in workers)
        return len(self._begun) < max(_TASKS_A_THREAD * threads, 1)

    def begin(self, task: Task):
        future = self._client.submit(
            work_parcels, self._settings, task, pure=False, retries=_RETRIES
        )
        self._begun.add(future)
        return future

    def ended(self, begun: list) -> set:
        import distributed

        with contextlib.suppress(Exception), self._client.as_current():
            return set(distributed.wait(begun, return_when="FIRST_COMPLETED").done)
        return {future for future in begun if future.done()} or set(begun)

    def result(self, begun) -> PartResult:
        import distributed

        self._begun.discard(begun)
        try:
            return begun.result(timeout=_CONNECT_S)
        except distributed.KilledWorker:
            raise WorkerDied from None
        except (OSError, TimeoutError, CancelledError, RuntimeError) as trouble:
            raise InputProblem(
                f"The scheduler {self._address!r} is gone ({type(trouble).__name__}): give the same "
                "command again, with it or without, to go on."
            ) from None
        finally:
            with contextlib.suppress(Exception):
                begun.release()
