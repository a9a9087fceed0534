"""Work on files from outside, done in a process apart with limits on time and memory.

The process that answers requests never reads a stranger's file itself. It keeps one helper, the porter, a small
process started at the first job, with the heavy libraries already loaded. For each job the porter forks: the copy does
one piece of work and ends, whatever happens to it. A job costs about a fork, not the start of an interpreter.

Three things travel: to the porter, the ends of two sockets per job; to the worker, the pickled call; back, reports
and the pickled result. What comes back is unpickled with an allow-list, since the worker had to do with hostile input.
"""

from __future__ import annotations

import atexit
import importlib
import io
import operator
import os
import pickle
import resource
import select
import signal
import socket
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import is_dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, Literal

HOME = Path(__file__).resolve().parent.parent
PRELOADED = ("lxml.etree", "scores.engraving.plates", "scores.reading_files.reading")
AT_ONCE = 2 * (os.cpu_count() or 2) + 2  # jobs of one process; a slow upload must not keep engravings waiting
WAIT_SECONDS = 45.0  # for a free bench, before one is told to try again
GRACE_SECONDS = 2.0  # how long after its own alarm a worker may still be silent

Reason = Literal["time", "memory", "died"]
Report = Callable[[str, int], None]

FRAME = struct.Struct("!cQ")
REPORT, RESULT, ERROR = b"p", b"r", b"e"
TRUSTED_ROOMS = {"scores", "lessons", "tests"}


class WorkshopFailed(Exception):
    """The worker came to no end of its own: out of time, out of memory, or dead."""

    def __init__(self, reason: Reason):
        super().__init__(reason)
        self.reason = reason


# In the process that asks


class Porter:
    """The helper process of one process, and the socket to it."""

    def __init__(self) -> None:
        ours, theirs = socket.socketpair()
        self.owner = os.getpid()
        self.socket = ours
        command = f"import scores.workshop as w; w.keep_door({theirs.fileno()})"
        paths = os.pathsep.join(filter(None, (str(HOME), os.environ.get("PYTHONPATH", ""))))
        self.process = subprocess.Popen(
            [sys.executable, "-c", command],
            stdin=subprocess.DEVNULL,
            pass_fds=(theirs.fileno(),),
            start_new_session=True,
            env=os.environ | {"PYTHONPATH": paths},
        )
        theirs.close()

    def ask(self, *ends: socket.socket) -> None:
        socket.send_fds(self.socket, [b"j"], [end.fileno() for end in ends])

    def dismiss(self) -> None:
        """Closing the socket is the order to go: the porter kills what still works, and ends."""
        self.socket.close()
        if self.owner == os.getpid():
            with suppress(subprocess.TimeoutExpired):
                self.process.wait(timeout=2)


_porter: Porter | None = None
_door = threading.Lock()
_benches = threading.BoundedSemaphore(AT_ONCE)


def renew_after_fork() -> None:
    """A forked process starts with fresh locks and a porter of its own."""
    global _porter, _door, _benches
    if _porter is not None:
        _porter.socket.close()
        _porter.process.returncode = 0  # not this process's child, and nothing to wait for
    _porter, _door, _benches = None, threading.Lock(), threading.BoundedSemaphore(AT_ONCE)


os.register_at_fork(after_in_child=renew_after_fork)


@atexit.register
def close() -> None:
    """Ends the porter and what it still has at work. The next job starts a new one."""
    global _porter
    with _door:
        if _porter is not None:
            _porter.dismiss()
            _porter = None


def hand_over(*ends: socket.socket) -> None:
    """Gives the ends of a job's sockets to the porter; a porter that was killed is replaced, once."""
    global _porter
    with _door:
        for attempt in (1, 2):
            if _porter is None:
                _porter = Porter()
            try:
                if _porter.process.poll() is not None:
                    raise BrokenPipeError
                _porter.ask(*ends)
                return
            except OSError:
                _porter.dismiss()
                _porter = None
                if attempt == 2:
                    raise WorkshopFailed("died") from None


def run(
    function: Callable[..., Any] | str,
    *args: Any,
    seconds: float = 10,
    megabytes: int = 512,
    on_report: Report | None = None,
    **options: Any,
) -> Any:
    """Calls a function in a process apart and returns what it returns, or raises what it raises.

    `function` is one of a module's own or its name, "scores.reading_files.reading:read", which spares this process
    the import.
    `seconds` limit the time of the work (not the wait for a free bench, which is `WAIT_SECONDS` at most), `megabytes`
    what it may add to the memory of the libraries. With `on_report` the function is given `report=`, and each
    report(step, percent) arrives here. Raises `WorkshopFailed`.
    """
    name = function if isinstance(function, str) else f"{function.__module__}:{function.__qualname__}"
    call = pickle.dumps((name, args, options, seconds, megabytes, on_report is not None))
    if not _benches.acquire(timeout=WAIT_SECONDS):
        raise WorkshopFailed("time")
    try:
        for attempt in (1, 2):
            ours, theirs = socket.socketpair()
            news, news_end = socket.socketpair()
            with ours, news:
                with theirs, news_end:
                    hand_over(theirs, news_end)
                try:
                    return converse(ours, news, call, seconds, megabytes, on_report)
                except PorterGone:
                    if attempt == 2:
                        raise WorkshopFailed("died") from None
    finally:
        _benches.release()
    raise AssertionError("unreachable")


class PorterGone(Exception):
    """The job was lost with its porter, before it began."""


def converse(
    ours: socket.socket, news: socket.socket, call: bytes, seconds: float, megabytes: int, on_report: Report | None
) -> Any:
    begun = False
    # The first job of a new porter waits while it loads the libraries: the clock starts when the worker says hello.
    ours.settimeout(60)
    try:
        begun = ours.recv(1) == b"h"
        if not begun:
            raise EOFError
        deadline = time.monotonic() + seconds + GRACE_SECONDS
        send_all(ours, call)
        while True:
            kind, body = receive(ours, deadline, megabytes * 1024 * 1024)
            if kind == REPORT:
                step, percent = loads(body)
                if on_report:
                    on_report(str(step), int(percent))
            elif kind == RESULT:
                return loads(body)
            else:
                raise as_exception(body)
    except TimeoutError:
        raise WorkshopFailed("time") from None
    except (EOFError, ConnectionError):
        status = obituary(news)
        if status is None and not begun:
            raise PorterGone from None
        raise WorkshopFailed(reason_of(status)) from None


def as_exception(body: bytes) -> BaseException:
    error = loads(body)
    if isinstance(error, MemoryError):
        return WorkshopFailed("memory")
    return error if isinstance(error, Exception) else WorkshopFailed("died")


def obituary(news: socket.socket) -> int | None:
    """The worker's wait status as its porter tells it; None if the porter itself is gone."""
    news.settimeout(GRACE_SECONDS)
    with suppress(OSError):
        told = news.recv(8)
        if len(told) == 8:
            return int(struct.unpack("!q", told)[0])
    return None


def reason_of(status: int | None) -> Reason:
    ended_by = os.WTERMSIG(status) if status is not None and os.WIFSIGNALED(status) else None
    if ended_by in (signal.SIGALRM, signal.SIGXCPU):
        return "time"
    # The system's own killer takes the process that has most memory.
    return "memory" if ended_by == signal.SIGKILL else "died"


def send_all(channel: socket.socket, body: bytes) -> None:
    channel.sendall(FRAME.pack(RESULT, len(body)) + body)


def receive(channel: socket.socket, deadline: float | None = None, most: int | None = None) -> tuple[bytes, bytes]:
    """The kind and body of the next frame. One of more than `most` bytes, more than its worker may have in memory, is
    not taken in: `WorkshopFailed`."""
    kind, length = FRAME.unpack(receive_exactly(channel, FRAME.size, deadline))
    if most is not None and length > most:
        raise WorkshopFailed("memory")
    return kind, receive_exactly(channel, length, deadline)


def receive_exactly(channel: socket.socket, length: int, deadline: float | None) -> bytes:
    body = bytearray()
    while len(body) < length:
        if deadline is not None:
            channel.settimeout(max(0.01, deadline - time.monotonic()))
        piece = channel.recv(min(1 << 20, length - len(body)))
        if not piece:
            raise EOFError
        body += piece
    return bytes(body)


class Customs(pickle.Unpickler):
    """Lets in plain values, fractions, exceptions and the project's own records; functions and everything else stay
    outside. A name is taken only from the module that defines it: "scores.workshop" also knows subprocess.Popen."""

    def find_class(self, module: str, name: str) -> Any:
        if (module, name) == ("fractions", "Fraction"):
            return Fraction
        is_ours = module.split(".")[0] in TRUSTED_ROOMS
        if (is_ours or module == "builtins") and "." not in name:
            found = super().find_class(module, name)
            is_defined_there = isinstance(found, type) and found.__module__ == module
            if is_defined_there and (issubclass(found, Exception) or (is_ours and is_dataclass(found))):
                return found
        raise pickle.UnpicklingError(f"{module}.{name} may not come back from the workshop")


def loads(body: bytes) -> Any:
    return Customs(io.BytesIO(body)).load()


# In the porter


def keep_door(door: int) -> None:
    """The porter's whole life: loads the libraries, then forks a worker per job until its socket is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    ears, mouth = socket.socketpair()
    for end in (ears, mouth):
        end.setblocking(False)
    signal.set_wakeup_fd(mouth.fileno())
    signal.signal(signal.SIGCHLD, lambda *_: None)
    for module in PRELOADED:
        with suppress(Exception):  # A job that needs it will say what is wrong with it.
            importlib.import_module(module)
    control = socket.socket(fileno=door)
    at_work: dict[int, socket.socket] = {}
    while True:
        ready, _, _ = select.select([control, ears], [], [])
        if ears in ready:
            with suppress(BlockingIOError):
                ears.recv(4096)
        bury(at_work)
        if control in ready:
            try:
                message, ends, _, _ = socket.recv_fds(control, 1, 2)
            except OSError:
                message, ends = b"", []
            if not message:
                break
            start_worker(control, ears, mouth, at_work, *(socket.socket(fileno=end) for end in ends))
    for worker in at_work:
        os.kill(worker, signal.SIGKILL)


def bury(at_work: dict[int, socket.socket]) -> None:
    """Tells how each ended worker ended."""
    while at_work:
        worker, status = os.waitpid(-1, os.WNOHANG)
        if not worker:
            return
        news = at_work.pop(worker)
        with suppress(OSError), news:
            news.send(struct.pack("!q", status))


def start_worker(
    control: socket.socket,
    ears: socket.socket,
    mouth: socket.socket,
    at_work: dict[int, socket.socket],
    job: socket.socket,
    news: socket.socket,
) -> None:
    worker = os.fork()
    if worker:
        at_work[worker] = news
        job.close()
        return
    code = 1
    try:
        signal.set_wakeup_fd(-1)
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        for other in (control, ears, mouth, news, *at_work.values()):
            other.close()
        work(job)
        code = 0
    finally:
        os._exit(code)


# In the worker


def work(job: socket.socket) -> None:
    job.sendall(b"h")
    _, call = receive(job)
    name, args, options, seconds, megabytes, reports = pickle.loads(call)
    set_limits(seconds, megabytes)

    def report(step: str, percent: int) -> None:
        body = pickle.dumps((step, percent))
        job.sendall(FRAME.pack(REPORT, len(body)) + body)

    try:
        module, _, function_name = name.partition(":")
        function = operator.attrgetter(function_name)(importlib.import_module(module))
        kind, body = RESULT, pickle.dumps(function(*args, **options, **({"report": report} if reports else {})))
    except Exception as error:
        kind, body = ERROR, pickled(error)
    job.sendall(FRAME.pack(kind, len(body)))
    job.sendall(body)


def set_limits(seconds: float, megabytes: int) -> None:
    """The kernel's own limits: they hold inside C code too. An unhandled alarm ends the process."""
    pages = int(Path("/proc/self/statm").read_text().split()[0]) if Path("/proc/self/statm").exists() else 0
    limit = pages * resource.getpagesize() + megabytes * 1024 * 1024
    resource.setrlimit(resource.RLIMIT_AS, (limit, limit))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    whole = int(seconds) + 1
    resource.setrlimit(resource.RLIMIT_CPU, (whole, whole + 1))
    signal.signal(signal.SIGALRM, signal.SIG_DFL)
    signal.setitimer(signal.ITIMER_REAL, max(0.001, seconds))


def pickled(error: Exception) -> bytes:
    """An exception as the asker may have it; one that cannot travel arrives as its words."""
    try:
        body = pickle.dumps(error)
        loads(body)
        return body
    except Exception:
        return pickle.dumps(RuntimeError(f"{type(error).__name__}: {error}"))
