"""Reading ahead: the same items in the same order, errors in their place, and no thread left behind."""

import threading

import cv2
import pytest

from puttvision.clip.ahead import opencv_on_one_thread, read_ahead


def threads():
    return [t for t in threading.enumerate() if t.name == "reading ahead"]


@pytest.mark.parametrize("n_most", [1, 3, 100])
def test_items_come_whole_and_in_order(n_most):
    assert list(read_ahead(iter(range(50)), n_most)) == list(range(50))
    assert not threads()


def test_no_more_is_read_than_asked():
    read = []

    def source():
        for k in range(100):
            read.append(k)
            yield k

    ahead = read_ahead(source(), 4)
    for k in range(10):
        assert next(ahead) == k
        assert len(read) <= k + 1 + 4 + 2  # taken, waiting, and one in the reader's hand
    ahead.close()


def test_an_error_is_raised_after_the_items_before_it():
    def source():
        yield 1
        yield 2
        raise ValueError("broken")

    ahead = read_ahead(source(), 8)
    assert (next(ahead), next(ahead)) == (1, 2)
    with pytest.raises(ValueError, match="broken"):
        next(ahead)
    assert not threads()


def test_stopping_early_closes_the_source_in_the_thread_that_read_it():
    closed = []

    def source():
        try:
            yield from range(1000)
        finally:
            closed.append(threading.current_thread().name)

    ahead = read_ahead(source(), 2)
    next(ahead)
    ahead.close()
    assert closed == ["reading ahead"]
    assert not threads()


def test_opencv_gets_its_threads_back_whatever_happens():
    before = cv2.getNumThreads()
    cv2.setNumThreads(2)
    try:
        with pytest.raises(RuntimeError, match="on the way"), opencv_on_one_thread():
            assert cv2.getNumThreads() == 1
            raise RuntimeError("on the way")
        assert cv2.getNumThreads() == 2
    finally:
        cv2.setNumThreads(before)
