"""Stages run, remembered, and made beside."""

from __future__ import annotations

import os
import pickle
import signal
import time
from concurrent.futures import BrokenExecutor, Executor, Future, ThreadPoolExecutor
from pickle import PicklingError

import pytest
from joblib import cpu_count

from shellgen.core import worker
from shellgen.core.flow import Flow
from shellgen.errors import FitError, GeometryError, PresetError


def twice(number: int) -> int:
    return 2 * number


def refuse(number: int) -> int:
    raise FitError(f"{number} does not fit")


def killed(number: int) -> int:
    os.kill(os.getpid(), signal.SIGKILL)
    return number


def test_only_what_has_changed_is_made_again():
    calls = []
    flow = Flow(calls.append)
    for number in (1, 1, 2):
        first = flow.run("first", twice, number)
        assert flow.run("second", twice, first).value == 4 * number
    assert calls == ["first", "second", "first", "second"]
    assert flow.latest("second") == 8 and set(flow.seconds) == {"first", "second"}


def test_what_is_made_beside_is_waited_for_only_where_it_is_used():
    held: Future[tuple[int, float]] = Future()

    class Slow(Executor):
        def submit(self, made, *args):  # type: ignore[override]
            return held

    flow = Flow(beside=Slow())
    first = flow.start("first", twice, 1)
    assert flow.run("other", twice, 5).value == 10 and "first" not in flow.seconds
    held.set_result((2, 0.5))
    assert flow.run("second", twice, first).value == 4 and flow.seconds["first"] == 0.5
    assert flow.start("first", twice, 1) is first


def test_what_was_not_begun_beside_when_it_is_asked_for_is_made_here():
    class Busy(Executor):
        def submit(self, made, *args):  # type: ignore[override]
            waiting.append(Future())
            return waiting[-1]

    waiting: list[Future[object]] = []
    flow = Flow(beside=Busy())
    assert flow.start("first", twice, 4).value == 8
    assert waiting[0].cancelled() and "first" in flow.seconds


@pytest.mark.skipif(cpu_count() < 2, reason="one core: no second process is started")
def test_another_process_gets_one_thing_at_a_time():
    with worker.helper() as other:
        assert other is not None
        first, second, third = (other.submit(time.sleep, 0.3) for _ in range(3))
        assert third.cancel() and not first.done()
        second.result()
        assert first.done() and third.cancelled()


class Heavy:
    """Counts how often it is sent."""

    sent = 0

    def __reduce__(self):
        Heavy.sent += 1
        return Heavy, ()


def alike(*values):
    return [isinstance(value, Heavy) for value in values]


@pytest.mark.skipif(cpu_count() < 2, reason="one core: no second process is started")
def test_what_another_process_was_given_the_time_before_is_not_sent_again():
    with worker.helper() as other:
        assert other is not None
        one, two = Heavy(), Heavy()
        assert other.submit(alike, one, 1).result() == [True, False] and Heavy.sent == 1
        assert other.submit(alike, 2, one).result() == [False, True] and Heavy.sent == 1
        assert other.submit(alike, two, one).result() == [True, True] and Heavy.sent == 2
        with pytest.raises(FitError):
            other.submit(refuse, one).result()
        assert other.submit(alike, one).result() == [True] and Heavy.sent == 3  # it may not have arrived


def test_trouble_beside_is_told_where_the_result_is_wanted():
    with ThreadPoolExecutor(1) as other:
        made = Flow(beside=other).start("first", refuse, 3)
        with pytest.raises(FitError, match="3 does not fit"):
            _ = made.value


def test_trouble_from_another_process_arrives_whole():
    told = PresetError("dome.length", "0", "120 to 1200 mm", file="pond.yaml", line=3, hint="measure again")
    for error in (told, FitError("3 does not fit"), GeometryError("a fold")):
        arrived = pickle.loads(pickle.dumps(error))
        assert type(arrived) is type(error) and str(arrived) == str(error) and vars(arrived) == vars(error)


@pytest.mark.parametrize("why", [BrokenExecutor("gone"), PicklingError("cannot be sent")])
def test_what_another_process_cannot_make_is_made_here(why):
    class Lost(Executor):
        def submit(self, made, *args):  # type: ignore[override]
            future: Future[object] = Future()
            future.set_exception(why)
            return future

    assert Flow(beside=Lost()).start("first", twice, 4).value == 8


@pytest.mark.skipif(cpu_count() < 2, reason="one core: no second process is started")
def test_another_process_makes_the_same_and_its_end_is_survived():
    with worker.helper() as other:
        assert other is not None
        assert other.submit(os.getpid).result() != os.getpid()
        assert Flow(beside=other).start("first", twice, 3).value == 6
        with pytest.raises(BrokenExecutor):
            other.submit(killed, 1).result()
        assert Flow(beside=other).start("first", twice, 3).value == 6


def test_who_is_told_of_a_stage_finds_it_among_the_latest() -> None:
    told: list[bool] = []
    flow = Flow(finished=lambda stage, value: told.append(flow.latest(stage) is value))
    for _ in range(2):  # the second time it is taken from memory, and nobody is told
        flow.run("stage", list)
    assert told == [True]
