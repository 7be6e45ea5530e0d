"""From what was typed on the command line to an order: every profile found, every file checked."""

from __future__ import annotations

import sys
from collections.abc import Callable

from acquire.errors import OrderError
from acquire.record.run_header import Job
from acquire.run_order import RunOrder, steps_from, with_fault, with_machine
from profiles.alternator import AlternatorProfile
from profiles.catalogue import Loaded, load_method, load_rated, load_rig, load_rule
from profiles.errors import Problem, ProfileError
from profiles.plate import looks_like_plate, parse_plate


def order_from(
    *,
    rig: str,
    rated: str | None,
    method: str,
    rule: str | None,
    job: Job,
    serial: str | None,
    unit: str | None,
    stage: str | None,
    operator: str | None,
    steps: str | None,
    fault: str | None,
    ask: bool,
) -> RunOrder:
    """Load and check everything the order names; all that is wrong is told at once.

    Raises:
        ProfileError: One or more files are wrong or not found.
        OrderError: What was asked for does not go together.
    """
    loads: dict[str, Callable[[], object]] = {
        "rig": lambda: load_rig(rig),
        "method": lambda: load_method(method),
        "rated": lambda: None if rated is None else rated_from(rated, ask=ask),
        "rule": lambda: None if rule is None else load_rule(rule),
    }
    found: dict[str, object] = {}
    problems: list[Problem] = []
    for name, load in loads.items():
        try:
            found[name] = load()
        except ProfileError as error:
            problems += error.problems
    if problems:
        raise ProfileError(problems)
    return RunOrder(
        rig=with_fault(with_machine(found["rig"], found["rated"]), fault),  # type: ignore[arg-type]
        method=found["method"],  # type: ignore[arg-type]
        rated=found["rated"],  # type: ignore[arg-type]
        rule=found["rule"],  # type: ignore[arg-type]
        steps=steps_from(steps),
        job=job,
        unit=unit,
        serial=serial,
        stage=stage,
        operator=operator,
    )


def rated_from(text: str, *, ask: bool) -> Loaded[AlternatorProfile]:
    """A rated curve; a plate without its speeds is asked for them where somebody can answer."""
    try:
        return load_rated(text)
    except ProfileError:
        if not (ask and looks_like_plate(text) and "@" not in text and sys.stdin.isatty()):
            raise
    return load_rated(f"{text} @{_ask_speeds(text)}")


def _ask_speeds(text: str) -> str:
    plate = parse_plate(text)
    wanted = "two speeds, as in 1500/6000" if plate.idle_amps is not None else "its speed, as 6000"
    print(f"At which shaft speeds does the plate '{text}' hold? Type {wanted}: ", file=sys.stderr)
    answer = sys.stdin.readline().strip()
    if not answer:
        raise OrderError("No speeds were typed.", what_to_do="Add them: --rated '… @1500/6000'.")
    return answer
