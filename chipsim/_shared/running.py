"""Calls run on any executor: lazily, whatever order they end in, whatever fails or dies on the way."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    Executor,
    Future,
    ProcessPoolExecutor,
    ThreadPoolExecutor,
    wait,
)
from typing import Any, TypeVar

from ..errors import DomainError

__all__ = ["in_order", "outcomes", "progress_bar", "worker_count"]

Task = TypeVar("Task")
Result = TypeVar("Result")

_WAITING = 64
"""Calls handed to a foreign executor ahead of its results: enough for its workers, few enough to stay lazy."""

_TRIES = 2
"""How often a call may be at work, alone, when its process dies before it is given up."""

_HOPELESS = 2
"""How many calls are given up before it is plain that no process ever lives to end one."""

_NONE_LIVED = (
    "no worker process lived to end a call; a script that uses processes needs its work under "
    "'if __name__ == \"__main__\":', and typed-in programs need workers=1"
)


def in_order(call: Callable[[Task], Result], tasks: Iterable[Task], threads: int) -> Generator[Result, None, None]:
    """Results of a call on every task, in the tasks' order, on so many threads, a few ahead of the one that is taken.

    On one thread every call runs in the caller's own, when its result is asked for.
    """
    if threads == 1:
        yield from map(call, tasks)
        return
    waiting: deque[Future[Result]] = deque()
    with ThreadPoolExecutor(threads) as pool:
        try:
            for task in tasks:
                waiting.append(pool.submit(call, task))
                if len(waiting) > 2 * threads:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for rest in waiting:
                rest.cancel()


def progress_bar(progress: object, total: int | None, unit: str) -> Any:
    """A bar for so many things, None if none is wanted; DomainError without the package."""
    if not isinstance(progress, bool):
        raise DomainError(f"progress must be True or False, got {progress!r}")
    if not progress:
        return None
    try:
        from tqdm.auto import tqdm  # in notebooks a bar of its own
    except ImportError:
        raise DomainError("progress must be False without the package tqdm: install chipsim[progress]") from None
    return tqdm(total=total, unit=unit)


def worker_count() -> int:
    """Processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def outcomes(
    function: Callable[[Task], Result], tasks: Iterable[Task], *, executor: Executor | None = None, workers: int = 1
) -> Generator[tuple[Task, Result | Exception], None, None]:
    """Yield (task, what the function returned or raised) for every task, in the order in which they end.

    Tasks are drawn only as fast as they are worked on.

    Parameters
    ----------
    function
        Of one task; for processes importable by name.
    tasks
        May be a generator.
    executor
        Used and left running; if it breaks, all that is left comes out as an exception. None: processes of one's
        own, or this process if `workers` is 1. Should one of them die, the pool is started anew, and the calls that
        were at work are tried again, one at a time, so that only the one that kills is given up.
    workers
        Number of processes.
    """
    queue = iter(tasks)
    if executor is None and workers == 1:
        for task in queue:
            try:
                yield task, function(task)
            except Exception as error:
                yield task, error
    elif executor is None:
        yield from _own_processes(function, queue, workers)
    else:
        yield from _foreign(function, queue, executor)


def _foreign(
    function: Callable[[Task], Result], queue: Iterator[Task], executor: Executor
) -> Iterator[tuple[Task, Result | Exception]]:
    running: dict[Future[Result], Task] = {}
    try:
        while True:
            while len(running) < _WAITING:
                try:
                    task = next(queue)
                except StopIteration:
                    break
                try:
                    running[executor.submit(function, task)] = task
                except Exception as error:  # shut down or broken
                    yield task, error
            if not running:
                return
            for future in wait(running, return_when=FIRST_COMPLETED).done:
                outcome = _outcome(future)
                yield running.pop(future), outcome
    finally:
        for future in running:
            future.cancel()


def _own_processes(
    function: Callable[[Task], Result], queue: Iterator[Task], workers: int
) -> Iterator[tuple[Task, Result | Exception]]:
    suspects: deque[tuple[Task, int]] = deque()  # tasks that were at work when a process died, and how often alone
    running: dict[Future[Result], tuple[Task, int]] = {}
    lived, given_up = False, 0
    pool = _pool(workers)
    try:
        while True:
            if not lived and given_up >= _HOPELESS:
                for task in (*(task for task, _ in suspects), *queue):
                    yield task, RuntimeError(_NONE_LIVED)
                return
            alone = bool(suspects)
            while len(running) < (1 if alone else 2 * workers):
                if suspects:
                    item = suspects.popleft()
                else:
                    try:
                        item = next(queue), 0
                    except StopIteration:
                        break
                try:
                    running[pool.submit(function, item[0])] = item
                except BrokenExecutor:
                    suspects.append(item)
                    break
            if not running and not suspects:
                return
            broken = not running
            for future in wait(running, return_when=FIRST_COMPLETED).done if running else ():
                task, deaths = running.pop(future)
                outcome = _outcome(future)
                if not isinstance(outcome, BrokenExecutor):
                    lived = True
                    yield task, outcome
                    continue
                broken = True
                if alone and deaths + 1 >= _TRIES:
                    given_up += 1
                    yield task, RuntimeError("the process at work on it died, twice")
                else:
                    suspects.append((task, deaths + alone))
            if broken:
                # those that were waiting are not under suspicion more than those at work: nobody knows which is which
                suspects.extend(running.values())
                running.clear()
                pool.shutdown(wait=False, cancel_futures=True)
                pool = _pool(workers)
    finally:
        pool.shutdown(wait=not running, cancel_futures=True)


def _outcome(future: Future[Result]) -> Result | Exception:
    try:
        return future.result()
    except Exception as error:
        return error


def _pool(workers: int) -> ProcessPoolExecutor:
    # spawn: the same on every system, and safe with threads and compiled code; Windows waits for 61 at most
    most = min(workers, 61) if os.name == "nt" else workers
    return ProcessPoolExecutor(most, multiprocessing.get_context("spawn"), _attend)


def _attend() -> None:
    """In a worker: leave interrupts to the parent, and end when the parent does, however that ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_follow, args=(parent,), daemon=True).start()


def _follow(parent: multiprocessing.process.BaseProcess) -> None:
    parent.join()
    os._exit(1)
