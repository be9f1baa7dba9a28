"""Work off the caller's thread: the newest request wins, and nothing is answered twice."""

from __future__ import annotations

import threading

import pytest

from layoutdesk.session.jobs import NewestWins

PATIENCE_S = 10.0


class Gate:
    """Work that begins when it says so and ends when it is let."""

    def __init__(self):
        self.began, self.let = threading.Semaphore(0), threading.Semaphore(0)
        self.worked, self.delivered = [], []

    def work(self, request):
        self.worked.append(request)
        self.began.release()
        assert self.let.acquire(timeout=PATIENCE_S)
        return request * 10

    def deliver(self, request, answer, problem):
        self.delivered.append((request, answer, problem))


@pytest.fixture
def gate():
    return Gate()


@pytest.fixture
def jobs(gate):
    worker = NewestWins(gate.work, gate.deliver)
    yield worker
    gate.let.release(100)
    worker.close()


def test_requests_that_were_overtaken_are_not_worked_on(gate, jobs):
    jobs.submit(1)
    assert gate.began.acquire(timeout=PATIENCE_S)
    for request in (2, 3, 4):
        jobs.submit(request)
    gate.let.release(10)
    assert jobs.wait(PATIENCE_S)
    assert gate.worked == [1, 4]
    assert gate.delivered == [(1, 10, None), (4, 40, None)]


def test_requests_that_wait_for_each_other_are_all_answered_in_order(gate, jobs):
    gate.let.release(100)
    for request in range(20):
        jobs.submit(request)
        assert jobs.wait(PATIENCE_S)
    assert [r for r, _, _ in gate.delivered] == list(range(20))


def test_none_is_a_request_like_another(gate):
    delivered = []
    worker = NewestWins(lambda r: "done", lambda *a: delivered.append(a))
    worker.submit(None)
    assert worker.wait(PATIENCE_S)
    worker.close()
    assert delivered == [(None, "done", None)]


def test_wait_says_when_it_took_too_long(gate, jobs):
    jobs.submit(1)
    assert gate.began.acquire(timeout=PATIENCE_S)
    assert jobs.wait(0.01) is False


@pytest.mark.parametrize("threaded", [True, False])
def test_an_exception_is_delivered_and_the_next_request_is_answered(threaded):
    delivered = []

    def work(request):
        if request == "bad":
            raise ValueError("no such thing")
        return request.upper()

    worker = NewestWins(work, lambda *a: delivered.append(a), threaded=threaded)
    for request in ("bad", "good"):
        worker.submit(request)
        assert worker.wait(PATIENCE_S)
    worker.close()
    (bad, nothing, problem), good = delivered
    assert (bad, nothing, str(problem)) == ("bad", None, "no such thing")
    assert isinstance(problem, ValueError)
    assert good == ("good", "GOOD", None)


def test_a_delivery_that_fails_does_not_end_the_worker(monkeypatch):
    delivered, reported = [], []
    monkeypatch.setattr(threading, "excepthook", reported.append)

    def deliver(request, answer, problem):
        if request == 1:
            raise RuntimeError("the receiver is gone")
        delivered.append(request)

    worker = NewestWins(lambda r: r, deliver)
    worker.submit(1)
    worker.wait(1.0)
    worker.submit(2)
    done = worker.wait(1.0)
    worker.close()
    assert done
    assert delivered == [2]


def test_without_a_thread_everything_happens_in_submit():
    seen = []
    worker = NewestWins(
        lambda r: threading.current_thread(), lambda *a: seen.append(a), threaded=False
    )
    worker.submit("x")
    worker.close()
    assert seen == [("x", threading.main_thread(), None)]


def test_work_and_delivery_are_off_the_callers_thread():
    threads = []
    worker = NewestWins(
        lambda r: threads.append(threading.current_thread()),
        lambda *a: threads.append(threading.current_thread()),
    )
    worker.submit("x")
    assert worker.wait(PATIENCE_S)
    worker.close()
    assert threads[0] is threads[1]
    assert threads[0] is not threading.current_thread()


def test_closing_ends_the_thread_and_keeps_back_the_answer_in_hand(gate):
    before = set(threading.enumerate())
    worker = NewestWins(gate.work, gate.deliver)
    worker.submit(1)
    assert gate.began.acquire(timeout=PATIENCE_S)
    worker.submit(2)
    closing = threading.Thread(target=worker.close)
    closing.start()
    while not worker._closed:  # close has been asked for and waits for the work in hand
        pass
    gate.let.release(10)
    closing.join(PATIENCE_S)
    assert not closing.is_alive()
    assert (gate.worked, gate.delivered) == ([1], [])
    assert set(threading.enumerate()) == before


def test_nothing_is_answered_after_closing(gate):
    worker = NewestWins(gate.work, gate.deliver)
    worker.close()
    worker.submit(1)
    assert not gate.began.acquire(timeout=0.05)
    worker.close()
    assert gate.delivered == []
