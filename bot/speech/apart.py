"""The ear in a process of its own.

What it works out holds up nothing of what is served (it loads and searches for seconds, and a thread would share one
interpreter with everything else), and what ends it, a crafted recording or a full memory, ends nothing else.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any, TypeVar

from bot.errors import SpeechError
from handlers.errors import CrosslayError

T = TypeVar("T")
LONGEST_S = 300.0
"""A recording of two minutes takes a small computer less; what takes longer is ended."""
MOST_BYTES = 4 << 30
"""Address space; what is truly used stays far below it."""
NICE = 5
"""Who is served goes first."""
ENDED = "That recording couldn't be listened to: type it."

_LOG = logging.getLogger(__name__)
_SPAWN = multiprocessing.get_context("spawn")
"""A copy of this process would have its threads' locks, and the record open."""


class EarFailed(RuntimeError):  # noqa: N818 - the reader of a log sees what failed
    """Something is wrong inside the ear; its words are the other process's."""


class Apart:
    """Runs functions of a module in the other process, one at a time; it is started when it is first needed."""

    def __init__(self, *, longest_s: float = LONGEST_S) -> None:
        self._longest_s = longest_s
        self._turn = asyncio.Lock()
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="apart")
        self._process: BaseProcess | None = None
        self._line: Connection | None = None

    async def run(self, work: Callable[..., T], *args: Any) -> T:
        """The function's answer. `work` and `args` are pickled.

        Raises:
            CrosslayError: as the function raised it; also when the other process ended twice, or took too long.
            EarFailed: anything else that it raised.
        """
        async with self._turn:
            for again in (True, False):
                answer = await asyncio.get_running_loop().run_in_executor(self._thread, self._ask, work, args)
                if answer is not None:
                    break
                _LOG.warning("The ear's process ended%s", ": once more" if again else "")
        match answer:
            case (True, value):
                return value  # type: ignore[no-any-return]
            case (False, CrosslayError() as error):
                raise error
            case (False, failure):
                raise EarFailed(str(failure))
        raise SpeechError(ENDED)

    def _ask(self, work: Callable[..., Any], args: tuple[Any, ...]) -> tuple[bool, Any] | None:
        """Blocks. None: the process ended over it."""
        line = self._open()
        late = threading.Event()
        watch = threading.Timer(self._longest_s, self._too_long, (late,))
        watch.daemon = True
        watch.start()
        try:
            line.send((work, args))
            answer: tuple[bool, Any] = line.recv()
            return answer
        except (EOFError, OSError):
            self.close()
            return (False, SpeechError(ENDED)) if late.is_set() else None
        finally:
            watch.cancel()

    def _open(self) -> Connection:
        if self._line is not None and self._process is not None and self._process.is_alive():
            return self._line
        self.close()
        ours, theirs = _SPAWN.Pipe()
        process = _SPAWN.Process(target=_serve, args=(theirs,), name="crosslay ear", daemon=True)
        process.start()
        theirs.close()  # so that its end is noticed
        self._process, self._line = process, ours
        return ours

    def _too_long(self, late: threading.Event) -> None:
        late.set()
        if self._process is not None:
            self._process.kill()

    def close(self) -> None:
        """End the other process."""
        if self._line is not None:
            self._line.close()
        if self._process is not None:
            self._process.kill()
            self._process.join()
        self._line = self._process = None


def _serve(line: Connection) -> None:
    """Answers until nobody is at the other end."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the program; this ends with it
    threading.Thread(target=_end_with_the_program, daemon=True).start()
    logging.disable()  # its own log would quote what was said; what fails is told to the program
    with contextlib.suppress(OSError, AttributeError):
        os.nice(NICE)
    _bound_memory(MOST_BYTES)
    with contextlib.suppress(EOFError, OSError):
        while True:
            work, args = line.recv()
            line.send(_answer(work, args))


def _end_with_the_program() -> None:
    """At once, not only when the recording at hand is done."""
    program = multiprocessing.parent_process()
    if program is not None:
        program.join()
        os._exit(1)


def _answer(work: Callable[..., Any], args: tuple[Any, ...]) -> tuple[bool, Any]:
    try:
        return True, work(*args)
    except CrosslayError as error:
        return False, SpeechError(error.message)
    except Exception as error:  # told where it is handled
        return False, f"{type(error).__name__} in {_place(error)}"


def _place(error: Exception) -> str:
    """Where it was raised; never its words, which may quote what was said."""
    trace = error.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    return "" if trace is None else f"{Path(trace.tb_frame.f_code.co_filename).name}:{trace.tb_lineno}"


def _bound_memory(most: int) -> None:
    try:
        import resource
    except ImportError:  # no such bound on this system
        return
    with contextlib.suppress(OSError, ValueError):
        resource.setrlimit(resource.RLIMIT_AS, (most, resource.getrlimit(resource.RLIMIT_AS)[1]))
