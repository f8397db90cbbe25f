"""Stages run, remembered, and computed by the worker."""

from __future__ import annotations

import os
import pickle
import signal
import time
from concurrent.futures import BrokenExecutor, Executor, Future, ThreadPoolExecutor
from functools import partial
from pickle import PicklingError

import numpy as np
import pytest
from joblib import cpu_count

from shellgen.core import worker
from shellgen.core.flow import Flow
from shellgen.core.memory import Memory
from shellgen.errors import FitError, GeometryError, PresetError

started = partial(worker.started, "shellgen.errors")


def fresh(**settings) -> Flow:
    """A flow with a memory of its own."""
    return Flow(memory=Memory(), **settings)


def twice(number: int) -> int:
    return 2 * number


def refuse(number: int) -> int:
    raise FitError(f"{number} does not fit")


def killed(number: int) -> int:
    os.kill(os.getpid(), signal.SIGKILL)
    return number


def largest(values: np.ndarray) -> float:
    return float(values.max())


class Slow(Executor):
    """Has one result, when it is set."""

    def __init__(self) -> None:
        self.held: Future[object] = Future()

    def submit(self, make, *of):  # type: ignore[override]
        return self.held


def test_only_what_has_changed_is_computed_again():
    shown = []
    flow = fresh(show=shown.append)
    for number in (1, 1, 2):
        first = flow.named("first").run(twice, number)
        assert flow.named("second").run(twice, first) == 4 * number
    assert shown == ["first", "second", "second"]  # in the last round twice 2 was known
    assert set(flow.seconds) == {"first", "second"}


def test_a_title_has_no_part_in_the_key():
    shown = []
    flow = fresh(show=shown.append)
    assert flow.named("one").run(twice, 3) == flow.named("other").run(twice, 3) == flow.run(twice, 3) == 6
    assert shown == ["one"]


def test_a_change_deep_in_a_large_array_is_seen():
    flow, values = fresh(), np.zeros(2000)
    assert flow.run(largest, values) == 0
    values[999] = 5.0
    assert flow.run(largest, values) == 5


def test_a_function_made_within_another_is_refused():
    with pytest.raises(TypeError, match="made within another function"):
        fresh().run(lambda: 1)


def test_what_the_worker_computes_is_waited_for_only_where_it_is_used():
    slow = Slow()
    flow = fresh(worker=slow)
    first = flow.named("first").start(twice, 1)
    assert flow.run(twice, 5) == 10 and "first" not in flow.seconds
    slow.held.set_running_or_notify_cancel()
    slow.held.set_result((2, 0.5))
    assert first.result() == 2 and flow.seconds["first"] == 0.5
    assert flow.start(twice, 1) is first and flow.run(twice, 1) == 2


def test_what_the_worker_has_not_begun_is_computed_here():
    slow = Slow()
    flow = fresh(worker=slow)
    assert flow.named("first").start(twice, 4).result() == 8
    assert slow.held.cancelled() and "first" in flow.seconds


def test_an_error_in_the_worker_is_raised_where_the_result_is_wanted_and_not_remembered():
    with ThreadPoolExecutor(1) as other:
        flow = fresh(worker=other)
        for _ in range(2):
            pending = flow.start(refuse, 3)
            with pytest.raises(FitError, match="3 does not fit"):
                pending.result()


def test_an_error_from_another_process_arrives_whole():
    preset = PresetError(
        "dome.length", "0 is too small.", "Give 120 to 1200 mm.", file="pond.yaml", line=3, hint="measure again"
    )
    for error in (preset, FitError("3 does not fit"), GeometryError("a fold")):
        arrived = pickle.loads(pickle.dumps(error))
        assert type(arrived) is type(error) and str(arrived) == str(error) and vars(arrived) == vars(error)


@pytest.mark.parametrize("why", [BrokenExecutor("gone"), PicklingError("cannot be sent")])
def test_what_the_worker_cannot_compute_is_computed_here(why):
    lost = Slow()
    lost.held.set_running_or_notify_cancel()
    lost.held.set_exception(why)
    assert fresh(worker=lost).start(twice, 4).result() == 8


@pytest.mark.skipif(cpu_count() < 2, reason="one core: no worker is started")
def test_the_worker_gets_one_task_at_a_time():
    with started() as other:
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


@pytest.mark.skipif(cpu_count() < 2, reason="one core: no worker is started")
def test_what_the_worker_was_sent_before_is_not_sent_again_in_the_same_build():
    with started() as other:
        assert other is not None
        one, two = Heavy(), Heavy()
        assert other.submit(alike, one, 1).result() == [True, False] and Heavy.sent == 1
        assert other.submit(alike, 2, two, one).result() == [False, True, True] and Heavy.sent == 2
        assert other.submit(alike, two, 3, one).result() == [True, False, True] and Heavy.sent == 2
        with pytest.raises(FitError):
            other.submit(refuse, Heavy()).result()
        other.forget()
        assert other.submit(alike, one).result() == [True] and Heavy.sent == 4


@pytest.mark.skipif(cpu_count() < 2, reason="one core: no worker is started")
def test_the_worker_computes_the_same_and_its_end_is_survived():
    with started() as other:
        assert other is not None
        assert other.submit(os.getpid).result() != os.getpid()
        assert fresh(worker=other).start(twice, 3).result() == 6
        with pytest.raises(BrokenExecutor):
            other.submit(killed, 1).result()
        flow = fresh(worker=other)
        assert flow.start(twice, 3).result() == 6
        flow.finish()
