"""Readings on their way: bounded, counted, the newest always at hand."""

from __future__ import annotations

import threading

from drivers.reading_queue import ReadingQueue
from drivers.readings import Quality, Reading


def reading(number: int, channel: str = "amps") -> Reading:
    return Reading(channel, float(number), float(number))


def test_readings_come_out_in_order_and_once() -> None:
    queue = ReadingQueue()
    for number in range(5):
        queue.put(reading(number))
    assert [each.value for each in queue.take()] == [0.0, 1.0, 2.0, 3.0, 4.0]
    assert queue.take() == []
    assert queue.dropped == 0


def test_the_oldest_go_first_and_every_loss_is_counted() -> None:
    queue = ReadingQueue(longest=3)
    for number in range(10):
        queue.put(reading(number))
    assert [each.value for each in queue.take()] == [7.0, 8.0, 9.0]
    assert queue.dropped == 7


def test_the_latest_of_each_channel_is_kept_whatever_its_quality() -> None:
    queue = ReadingQueue()
    queue.put(reading(1))
    queue.put(Reading("amps", 2.0, None, Quality.TIMEOUT))
    queue.put(reading(3, "volts"))
    queue.take()
    latest = queue.latest("amps")
    assert latest is not None
    assert latest.quality is Quality.TIMEOUT
    assert queue.latest("case_c") is None


def test_no_reading_is_lost_or_doubled_between_many_threads() -> None:
    queue = ReadingQueue(longest=1000)

    def produce(channel: str) -> None:
        for number in range(2000):
            queue.put(reading(number, channel))

    threads = [threading.Thread(target=produce, args=(name,)) for name in ("amps", "volts")]
    for thread in threads:
        thread.start()
    taken: list[Reading] = []
    while any(thread.is_alive() for thread in threads):
        taken += queue.take(0.001)
    taken += queue.take()
    assert len(taken) + queue.dropped == 4000
    for name in ("amps", "volts"):
        values = [each.value for each in taken if each.channel == name]
        assert values == sorted(values, key=lambda value: value or 0.0)
        assert len(values) == len(set(values))


def test_waiting_ends_with_the_first_reading() -> None:
    queue = ReadingQueue()
    threading.Timer(0.02, queue.put, [reading(1)]).start()
    assert [each.value for each in queue.take(5.0)] == [1.0]
