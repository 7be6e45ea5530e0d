"""From a trip to the first stop byte at the drive, with the screen busy: 1,000 trips.

    python -m tests.benchmarks.stop_latency [--trips 1000]

A Modbus TCP drive in a process of its own notes when "run = off" arrives. The program polls the
drive at 20 Hz, a stand-in for the screen keeps the interpreter busy 30 ms in every 100 ms, and
each trip falls at a random moment. The clock is the system's monotonic one, shared by both.
"""

from __future__ import annotations

import argparse
import multiprocessing
import platform
import random
import socket
import statistics
import struct
import threading
import time
from multiprocessing.connection import Connection

from acquire.stop_path import RigAtStop, StopPath, StopReason
from drivers.bench_wiring import BenchWiring
from drivers.clock import RealClock
from profiles.catalogue import rig_from
from tests.benchmarks.figures import Figure, Size

TARGET_MS = 50.0
RUN_REGISTER = 0


def serve_drive(connection: Connection) -> None:
    """A drive that answers reads with zero or one and reports each "run = off"."""
    listener = socket.create_server(("127.0.0.1", 0))
    connection.send(listener.getsockname()[1])
    client, _ = listener.accept()
    client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    held, registers = b"", {RUN_REGISTER: 1}
    while data := client.recv(4096):
        held += data
        while len(held) >= 12:
            frame, held = held[:12], held[12:]
            arrived_s = time.monotonic()
            function, register, value = struct.unpack(">BHH", frame[7:12])
            if function == 6:
                if (register, value) == (RUN_REGISTER, 0):
                    connection.send(arrived_s)
                registers[register] = value
                body = frame[7:12]
            else:
                body = struct.pack(">BBH", function, 2, registers.get(register, 0))
            client.sendall(frame[:4] + struct.pack(">HB", len(body) + 1, frame[6]) + body)


def busy_screen(ended: threading.Event) -> None:
    """Keeps the interpreter busy 30 ms in every 100 ms, as a screen being drawn would."""
    while not ended.wait(0.07):
        until_s = time.perf_counter() + 0.03
        while time.perf_counter() < until_s:
            sum(n * n for n in range(200))


def measure(trips: int) -> list[float]:
    """Milliseconds from trip to the arrival of "run = off", for each trip."""
    ours, theirs = multiprocessing.Pipe()
    process = multiprocessing.get_context("spawn").Process(
        target=serve_drive, args=(theirs,), daemon=True
    )
    process.start()
    port = ours.recv()
    rig = rig_from(
        {
            "title": "Bench for stop latency",
            "channels": {"shaft_rpm": {"driver": "hand"}, "amps": {"driver": "hand"}},
            "drive": {
                "driver": "modbus",
                "port": f"tcp://127.0.0.1:{port}",
                "every_s": 0.05,
                "run": {"register": RUN_REGISTER, "on": 1, "off": 0},
                "speed": {"register": 1, "in": "rpm"},
                "output": {"register": 10, "in": "rpm"},
            },
            "rig": {"pulley": {"drive_mm": 100.0, "alternator_mm": 100.0}},
        },
        "stop latency",
    )
    clock, ended = RealClock(), threading.Event()
    wiring = BenchWiring(rig, clock)
    wiring.open(5.0)
    threading.Thread(target=busy_screen, args=(ended,), daemon=True).start()
    try:
        return [_one_trip(wiring, ours) for _ in range(trips)]
    finally:
        ended.set()
        wiring.close()
        process.terminate()


def _one_trip(wiring: BenchWiring, drive: Connection) -> float:
    path = StopPath(
        RigAtStop(
            drive=wiring.drive,
            load=None,
            field=None,
            shaft_rpm=lambda: 0.0,
            shed_below_rpm=600.0,
            coast_s=1.0,
            clock=RealClock(),
        )
    )
    time.sleep(random.uniform(0.0, 0.05))
    tripped_s = time.monotonic()
    path.trip(StopReason("guard", "measured"))
    arrived_s = float(drive.recv())
    path.wait(10.0)
    while drive.poll(0.0):
        drive.recv()
    return (arrived_s - tripped_s) * 1000.0


def p99_of(taken: list[float]) -> float:
    """The time that one trip in a hundred exceeds."""
    ordered = sorted(taken)
    return ordered[min(int(0.99 * len(ordered)), len(ordered) - 1)]


def figures(size: Size) -> list[Figure]:
    """How soon the first stop byte is at the drive."""
    taken = measure({"tiny": 5, "short": 200, "full": 1000}[size])
    note = f"median {statistics.median(taken):.1f}, largest {max(taken):.1f}, {len(taken)} trips"
    what = "trip to first stop byte, screen busy, p99"
    return [Figure(what, p99_of(taken), "ms", at_most=TARGET_MS, note=note)]


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--trips", type=int, default=1000)
    trips = parser.parse_args().trips
    taken = measure(trips)
    p99 = p99_of(taken)
    print(f"Python {platform.python_version()}, {platform.system()}; {trips} trips, screen busy")
    print(
        f"trip to first stop byte: median {statistics.median(taken):.1f} ms, p99 {p99:.1f} ms,"
        f" longest {max(taken):.1f} ms (target p99 {TARGET_MS:.0f} ms:"
        f" {'met' if p99 <= TARGET_MS else 'MISSED'})"
    )


if __name__ == "__main__":
    main()
