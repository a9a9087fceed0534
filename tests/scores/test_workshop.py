"""The workshop survives whatever its workers do."""

import ctypes
import os
import pickle
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path

import pytest

from scores import workshop
from scores.workshop import WorkshopFailed, run

HERE = "tests.scores.test_workshop"


class Refused(Exception):
    def __init__(self, place: int):
        super().__init__(place)
        self.place = place


class WithLambda(Exception):
    def __init__(self):
        super().__init__(lambda: 0)


def double(number):
    return 2 * number


def refuse(place):
    raise Refused(place)


def raise_what_cannot_travel():
    raise WithLambda


def crash():
    ctypes.string_at(0)


def loop():
    while True:
        pass


def sleep(seconds):
    time.sleep(seconds)
    return os.getpid()


def hoard():
    return len([bytearray(10_000_000) for _ in range(1000)])


def big(size):
    return os.urandom(16) * (size // 16)


def smuggle():
    return Smuggled()


def claim(size):
    """A worker that was taken over: tells of a result without end on the socket to the asker."""
    for end in map(int, os.listdir("/proc/self/fd")):
        with suppress(OSError):
            os.write(end, workshop.FRAME.pack(workshop.RESULT, size)) if end > 2 else None


class Smuggled:
    def __reduce__(self):
        return (os.system, ("true",))


def with_reports(report):
    for percent in (0, 50, 100):
        report("reading", percent)
    return "done"


def test_a_job_returns_its_result_from_another_process():
    assert run(double, 21, seconds=5) == 42
    assert run(f"{HERE}:sleep", 0, seconds=5) != os.getpid()


def test_an_exception_comes_back_as_itself():
    with pytest.raises(Refused) as caught:
        run(refuse, 7, seconds=5)
    assert caught.value.place == 7


def test_an_exception_that_cannot_travel_comes_back_as_words():
    with pytest.raises(RuntimeError, match="WithLambda"):
        run(raise_what_cannot_travel, seconds=5)


def test_a_crash_is_told_and_the_next_job_runs():
    with pytest.raises(WorkshopFailed) as caught:
        run(crash, seconds=5)
    assert caught.value.reason == "died"
    assert run(double, 1, seconds=5) == 2


@pytest.mark.parametrize(("function", "args"), [(loop, ()), (sleep, (30,))])
def test_a_job_without_end_is_stopped(function, args):
    start = time.monotonic()
    with pytest.raises(WorkshopFailed) as caught:
        run(function, *args, seconds=0.4)
    assert caught.value.reason == "time"
    assert time.monotonic() - start < 2


def test_a_job_that_hoards_memory_is_stopped():
    with pytest.raises(WorkshopFailed) as caught:
        run(hoard, seconds=20, megabytes=200)
    assert caught.value.reason == "memory"


def test_a_result_of_20_megabytes_comes_back_whole():
    assert len(run(big, 20_000_000, seconds=10, megabytes=300)) == 20_000_000


def test_an_argument_of_20_megabytes_goes_out_whole():
    assert run("builtins:len", bytes(20_000_000), seconds=10, megabytes=300) == 20_000_000


def test_reports_arrive_in_order():
    seen = []
    assert run(with_reports, seconds=5, on_report=lambda step, percent: seen.append((step, percent))) == "done"
    assert seen == [("reading", 0), ("reading", 50), ("reading", 100)]


def test_a_result_that_would_run_code_here_is_refused():
    with pytest.raises(Exception, match="may not come back"):
        run(smuggle, seconds=5)


@pytest.mark.parametrize(
    ("module", "name"),
    [
        ("scores.workshop", "subprocess.Popen"),  # reached through a module of ours
        ("scores.workshop", "Porter"),
        (HERE, "ThreadPoolExecutor"),
        (HERE, "Smuggled"),
        ("builtins", "eval"),
        ("builtins", "bytearray"),
        ("subprocess", "Popen"),
    ],
)
def test_only_records_and_exceptions_of_ours_come_back(module, name):
    words = b"".join(b"\x8c" + bytes((len(word),)) + word.encode() for word in (module, name))
    with pytest.raises(pickle.UnpicklingError, match="may not come back"):
        workshop.loads(b"\x80\x04" + words + b"\x93.")  # the pickle of a class is its module and name


def test_a_result_larger_than_its_worker_may_grow_is_not_taken_in():
    with pytest.raises(WorkshopFailed) as caught:
        run(claim, 2**40, seconds=5, megabytes=200)
    assert caught.value.reason == "memory"


def test_jobs_leave_no_open_files_and_no_processes():
    run(double, 1, seconds=5)
    before, porters_before = open_files(os.getpid()), open_files(workshop._porter.process.pid)
    with ThreadPoolExecutor(8) as pool:
        assert sum(pool.map(lambda _: run(double, 1, seconds=10), range(100))) == 200
    assert run(double, 1, seconds=5) == 2  # the porter buries the last of them before it takes this one
    deadline = time.monotonic() + 5
    while len(alive_in_session(workshop._porter.process.pid)) > 1 and time.monotonic() < deadline:
        time.sleep(0.05)
    assert alive_in_session(workshop._porter.process.pid) == [workshop._porter.process.pid]
    assert open_files(os.getpid()) <= before
    assert open_files(workshop._porter.process.pid) <= porters_before + 1  # the news of one not yet buried


def open_files(process: int) -> int:
    return len(os.listdir(f"/proc/{process}/fd"))


def test_many_threads_at_once_each_get_their_own_answer():
    with ThreadPoolExecutor(16) as pool:
        assert list(pool.map(lambda number: run(double, number, seconds=10), range(60))) == [2 * n for n in range(60)]


def test_a_killed_porter_is_replaced():
    run(double, 1, seconds=5)
    os.kill(workshop._porter.process.pid, signal.SIGKILL)
    assert run(double, 4, seconds=5) == 8


def test_a_forked_process_has_a_porter_of_its_own():
    run(double, 1, seconds=5)
    child = os.fork()
    if not child:
        code = 1
        try:
            code = 0 if run(double, 5, seconds=5) == 10 else 2
            workshop.close()
        finally:
            os._exit(code)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
    assert run(double, 2, seconds=5) == 4


def test_nothing_is_left_running_when_the_asker_ends_or_is_killed():
    program = (
        "import os, signal, threading, time, tests.scores.test_workshop as t; from scores import workshop as w;"
        "w.run(t.double, 1, seconds=5);"
        "threading.Thread(target=w.run, args=(t.sleep, 60), kwargs={'seconds': 90}, daemon=True).start();"
        "time.sleep(0.5); print(w._porter.process.pid, flush=True); os.kill(os.getpid(), signal.SIGKILL)"
    )
    home = str(Path(workshop.__file__).parent.parent)
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, cwd=home, timeout=60)
    porter = int(done.stdout)
    deadline = time.monotonic() + 5
    while time.monotonic() < deadline and alive_in_session(porter):
        time.sleep(0.05)
    assert not alive_in_session(porter)


def alive_in_session(session: int) -> list[int]:
    """Processes of the porter's session that still run (those that wait to be reaped do not)."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                fields = (entry / "stat").read_text().rsplit(")", 1)[1].split()
            except OSError:
                continue
            if int(fields[3]) == session and fields[0] != "Z":
                found.append(int(entry.name))
    return found


def test_the_asking_process_loads_neither_engraver_nor_music_library():
    program = (
        "import sys, scores.engraving; from scores import workshop; workshop.run('math:sqrt', 4.0, seconds=5);"
        "print(sorted({'music21', 'verovio'} & set(sys.modules)))"
    )
    home = str(Path(workshop.__file__).parent.parent)
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, cwd=home, timeout=60)
    assert done.stdout.strip() == "[]", done.stderr
