"""The table of the benchmarks: what it says of a limit, and that JSON brings it back whole."""

from __future__ import annotations

import json
import threading

import pytest

from tests.benchmarks.__main__ import BENCHMARKS, Ran, document, machine, main
from tests.benchmarks.figures import Figure, documents_of, figures_from, table
from tests.benchmarks.side_by_side import at_once, in_turn, times

LATE = Figure("trip to first stop byte", 51.2, "ms", at_most=50.0, note="1000 trips")
QUICK = Figure("rebuild", 2300.0, "runs/s", at_least=500.0)
PLAIN = Figure("bare start", 0.0123, "s")


def test_a_limit_is_kept_up_to_itself_and_no_further() -> None:
    assert Figure("dropped", 0, at_most=0).met is True
    assert Figure("dropped", 1, at_most=0).met is False
    assert Figure("rate", 499.9, at_least=500).met is False
    assert LATE.met is False
    assert QUICK.met is True
    assert PLAIN.met is None


def test_the_table_says_figure_limit_and_whether_it_is_kept() -> None:
    rows = table([LATE, QUICK, PLAIN], markdown=True).splitlines()
    assert rows == [
        "| what | figure | asked | met |",
        "|---|---|---|---|",
        "| trip to first stop byte | 51.2 ms (1000 trips) | ≤ 50 ms | NO |",
        "| rebuild | 2300 runs/s | ≥ 500 runs/s | yes |",
        "| bare start | 0.0123 s |  |  |",
    ]


def test_columns_of_the_plain_table_stand_below_each_other() -> None:
    head, *rows = table([LATE, QUICK], markdown=False).splitlines()
    assert {row.index("≤" if "≤" in row else "≥") for row in rows} == {head.index("asked")}


def test_figures_come_back_whole_from_json() -> None:
    told = [LATE, QUICK, PLAIN]
    assert figures_from(json.loads(json.dumps(documents_of(told)))) == told


def test_the_file_of_figures_names_the_machine_and_what_failed() -> None:
    runs = [Ran("replay", [LATE], 1.23), Ran("shelf", [], 0.1, "no disk")]
    kept = document(runs, "short", machine())
    assert kept["benchmarks"][0]["figures"][0]["met"] is False
    assert kept["benchmarks"][1]["failure"] == "no disk"
    assert {"date", "cores", "memory", "Python", "numpy", "SQLAlchemy"} <= set(kept["machine"])


def test_an_unknown_benchmark_is_refused_with_the_known_ones(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["--only", "replay,teapot"])
    assert stopped.value.code == 2
    said = capsys.readouterr().err
    assert "teapot" in said
    assert all(name in said.replace("\n", " ") for name in BENCHMARKS)


def test_things_are_measured_in_turn_and_compared_round_by_round() -> None:
    order: list[str] = []
    found = in_turn({name: lambda name=name: order.append(name) for name in "ab"}, rounds=2)  # type: ignore[misc]
    assert order == ["a", "b", "a", "b"]
    assert {name: len(given) for name, given in found.items()} == {"a": 2, "b": 2}
    assert times([2.0, 9.0, 4.0], [1.0, 3.0, 2.0]) == 2.0


def test_what_is_measured_at_once_really_runs_at_once() -> None:
    meeting = threading.Barrier(2)  # nobody passes alone
    found = at_once({name: lambda: meeting.wait(10.0) for name in "ab"}, rounds=2)
    assert [sorted(pair) for pair in zip(found["a"], found["b"], strict=True)] == [[0, 1], [0, 1]]
