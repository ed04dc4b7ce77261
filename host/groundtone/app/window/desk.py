"""The desk: long work (recordings measured, blocks compared, pages written) in a process of its own.

The interface thread hands a job over and gets plain data back by a signal; the worker's frames are not held up, for
another process does the reckoning. Jobs are done in order.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from typing import Any

from PyQt5.QtCore import QObject, pyqtSignal

from groundtone.errors import GroundtoneError, sentence_of
from groundtone.files import end_with_parent

_KEPT_S = 60.0
Done = Callable[[Any], None]
Failed = Callable[[str], None]


class Desk(QObject):
    """Does jobs.

    Parameters
    ----------
    executor : Executor, optional
        Without it a process that is started with the first job.
    """

    _came = pyqtSignal(object, object, object)

    def __init__(self, executor: Executor | None = None) -> None:
        super().__init__()
        self._given = executor
        self._executor = executor
        self._closed = False
        self.waiting = 0
        self._waiting: list[tuple[Future[Any], bool]] = []
        self._came.connect(self._deliver)

    def do(self, job: Callable[..., Any], *arguments: Any, done: Done, failed: Failed, kept: bool = False) -> None:
        """Hands a job over.

        Parameters
        ----------
        job : callable
            A function of a module; its arguments and what it gives back are plain data.
        done : callable
            Takes what came of it, in the interface thread.
        failed : callable
            Takes a sentence.
        kept : bool
            Not dropped at the end: `close` waits for it.
        """
        if self._closed:
            return
        if self._executor is None:
            context = multiprocessing.get_context("spawn")
            self._executor = ProcessPoolExecutor(1, mp_context=context, initializer=end_with_parent)
        try:
            future = self._executor.submit(job, *arguments)
        except BrokenProcessPool:
            self._executor = None
            failed("The work beside the window was ended from outside: do it again.")
            return
        self.waiting += 1
        self._waiting.append((future, kept))
        future.add_done_callback(lambda finished: self._finished(finished, done, failed))

    def _finished(self, future: Future[Any], done: Done, failed: Failed) -> None:
        if not self._closed:
            self._came.emit(future, done, failed)

    def _deliver(self, future: Future[Any], done: Done, failed: Failed) -> None:
        self.waiting -= 1
        self._waiting = [each for each in self._waiting if each[0] is not future]
        if future.cancelled():
            return
        error = future.exception()
        if error is None:
            done(future.result())
            return
        if isinstance(error, BrokenProcessPool):
            self._executor = None
            failed("The work beside the window was ended from outside: do it again.")
        elif isinstance(error, GroundtoneError):
            failed(sentence_of(error))
        else:
            failed(f"The program failed here ({type(error).__name__}: {error}): the window goes on.")

    def close(self) -> None:
        """No more jobs; what waits is dropped, but for what is to be kept: that is waited for, a while."""
        self._closed = True
        if self._executor is None or self._given is not None:
            return
        for future, kept in self._waiting:
            if not kept:
                future.cancel()
        wait([future for future, kept in self._waiting if kept], _KEPT_S)
        # What is being done just now is nobody's any more: its process is not waited for.
        processes = list((getattr(self._executor, "_processes", None) or {}).values())
        self._executor.shutdown(wait=False, cancel_futures=True)
        for process in processes:
            process.terminate()
