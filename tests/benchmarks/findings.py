"""How often the findings are right: simulated units with one known fault each, against the rules.

    python -m tests.benchmarks.findings [--n 200] [--seed 50000] [--keep FILE]

Machines and seeds here were not used in making the rules.
"""

from __future__ import annotations

import argparse
import pickle
import time
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from acquire.findings.finding import Finding
from tests.benchmarks.figures import Figure, Size
from tests.findings.units import (
    FAULTS,
    FOR_MEASURING,
    RIG_FAULTS,
    Reads,
    Setting,
    Swept,
    judged,
    swept,
)

FIRST_SEED = 50_000
HINT = "open diode not ruled out"
READS: tuple[Reads, ...] = ("plain", "full", "fast")
READS_WORDS: dict[Reads, str] = {
    "plain": "speed, amps, volts, case, drive",
    "full": "and battery, field, ripple, W",
    "fast": "and a burst of ripple samples at each step",
}
READS_RIGS: dict[Reads, str] = {
    "plain": "plain rig",
    "full": "rig with field, ripple, battery, W",
    "fast": "rig with a burst of ripple",
}
NAMES_OF: dict[str, tuple[str, ...]] = {
    "healthy": ("-",),
    "not-excited": ("not excited", "no output: not excited or dead"),
    "dead": ("dead", "no output: not excited or dead"),
    "regulator-low": ("regulator low or regulating",),
    "slipping-belt": ("belt slip",),
    "wrong-pulley": ("wrong pulley ratio or pole count",),
    "wrong-poles": ("wrong pulley ratio or pole count",),
}
"""What a fault of the simulated rig is called among the findings, where not by its own name."""


def setting_of(fault: str, number: int) -> Setting:
    """Three in ten come warm; heat shows in a warm-up only."""
    if fault == "hot-fade" or (fault == "healthy" and number % 10 == 9):
        return Setting(warm_up_s=240.0)
    return Setting(warm=number % 10 in (2, 5, 8))


def units(faults: Iterable[str], n: int, first_seed: int) -> Iterator[Swept]:
    """`n` units of each fault through a whole sweep."""
    for fault in faults:
        for k in range(n):
            yield swept(fault, first_seed + k, FOR_MEASURING, setting_of(fault, k))


def top_only(fault: str, n: int, first_seed: int) -> Iterator[Swept]:
    """The same, measured at the highest rated speeds only."""
    for k in range(n):
        yield swept(fault, first_seed + 10_000 + k, FOR_MEASURING, Setting(top_only=True))


def accusations(unit: Swept, reads: Reads) -> list[Finding]:
    """What is held against this unit or its rig, the most certain first."""
    return [f for f in judged(unit, reads).findings if f.accuses]


def first_name(found: Sequence[Finding]) -> str:
    """The most certain finding's name; `-` when there is none."""
    return found[0].name if found else "-"


def names_of(fault: str) -> tuple[str, ...]:
    """What a fault may rightly be called."""
    return NAMES_OF.get(fault, (fault.replace("-", " "),))


def confusion(swept_units: Sequence[Swept], reads: Reads) -> dict[str, Counter[str]]:
    """Fault -> how often each finding came first."""
    table: dict[str, Counter[str]] = {}
    for unit in swept_units:
        first = first_name(accusations(unit, reads))
        table.setdefault(unit.fault, Counter())[first] += 1
    return table


def print_confusion(table: dict[str, Counter[str]], reads: Reads) -> None:
    """One row a fault: how often it was named right, and what else it was taken for."""
    print(f"\nA rig that reads {READS_WORDS['plain']}", end="")
    print("" if reads == "plain" else f" {READS_WORDS['full']}", end="")
    print(f" {READS_WORDS['fast']}" if reads == "fast" else "")
    print(f"{'fault':<16} {'units':>5} {'right':>7}   named instead (- = nothing held against it)")
    for fault, names in table.items():
        whole = sum(names.values())
        right = sum(names[name] for name in names_of(fault))
        others = ", ".join(
            f"{name} {count}" for name, count in names.most_common() if name not in names_of(fault)
        )
        print(f"{fault:<16} {whole:>5} {100 * right / whole:>6.1f}%   {others}")


def falsely_accused(swept_units: Sequence[Swept], reads: Reads) -> tuple[int, int]:
    """Healthy units with anything at all held against them, of how many."""
    healthy = [unit for unit in swept_units if unit.fault == "healthy"]
    return sum(bool(accusations(unit, reads)) for unit in healthy), len(healthy)


def sound_units_on_bad_rigs(swept_units: Sequence[Swept], reads: Reads) -> tuple[int, int]:
    """Sound units on a rig with a fault of its own that are blamed for it, of how many."""
    on_bad_rigs = [unit for unit in swept_units if unit.fault in RIG_FAULTS]
    blamed = sum(any(f.about == "unit" for f in accusations(u, reads)) for u in on_bad_rigs)
    return blamed, len(on_bad_rigs)


def open_diode_kept_silent(swept_units: Sequence[Swept], reads: Reads) -> tuple[int, int, int]:
    """Single open diodes found, only warned of, and passed over without a word."""
    found = warned = silent = 0
    for unit in swept_units:
        names = [f.name for f in judged(unit, reads).findings]
        if "open diode" in names:
            found += 1
        elif HINT in names:
            warned += 1
        else:
            silent += 1
    return found, warned, silent


def probabilities(swept_units: Sequence[Swept], reads: Reads) -> Iterator[tuple[str, int, int]]:
    """How often a finding with a stated probability was right, by how sure it was."""
    tally: dict[str, list[int]] = {}
    for unit in swept_units:
        for finding in accusations(unit, reads):
            if finding.probability is not None:
                right = finding.name in names_of(unit.fault)
                tally.setdefault(finding.sure, []).append(int(right))
    for sure in ("possible", "likely", "certain"):
        rights = tally.get(sure, [])
        yield sure, sum(rights), len(rights)


def figures(size: Size) -> list[Figure]:
    """Healthy units accused, and how often the right name came first."""
    n = {"tiny": 1, "short": 10, "full": 200}[size]
    faults = ("healthy", "open-diode") if size == "tiny" else tuple(FAULTS)
    every = list(units(faults, n, FIRST_SEED))
    told: list[Figure] = []
    for reads in READS:
        accused, healthy = falsely_accused(every, reads)
        names = confusion(every, reads)
        right = sum(names[fault][name] for fault in faults for name in names_of(fault))
        rig = f"findings, {READS_RIGS[reads]}:"
        told += [
            Figure(f"{rig} healthy units accused", 100 * accused / healthy, "%", at_most=1.0,
                   note=f"{accused} of {healthy}"),
            Figure(f"{rig} named right, all kinds together", 100 * right / len(every), "%",
                   note=f"{len(every)} units"),
        ]  # fmt: skip
    return told


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--n", type=int, default=200, help="units of each fault")
    parser.add_argument("--seed", type=int, default=FIRST_SEED)
    parser.add_argument("--keep", type=Path, help="keep the sweeps in this file, or use those kept")
    args = parser.parse_args()
    began_s = time.perf_counter()
    every, tops, healthy_tops = _swept(args.n, args.seed, args.keep)
    print(f"{args.n} units of each fault, {', '.join(FOR_MEASURING)}; seeds from {args.seed}.")
    for reads in READS:
        print_confusion(confusion(every, reads), reads)
        accused, healthy = falsely_accused(every, reads)
        print(f"Healthy units with anything held against them: {accused} of {healthy}")
        blamed, sound = sound_units_on_bad_rigs(every, reads)
        print(f"Sound units blamed for a fault of the rig: {blamed} of {sound}")
        for sure, right, whole in probabilities(every, reads):
            print(f"  said '{sure}' with a probability: right {right} of {whole}")
    diodes = [unit for unit in every if unit.fault == "open-diode"]
    for words, some in (("all rated speeds", diodes), ("top speeds only", tops)):
        for reads in READS[:2]:
            found, warned, silent = open_diode_kept_silent(some, reads)
            ripple = "without ripple" if reads == "plain" else "with ripple"
            print(
                f"Open diode, {words}, {ripple}: found {found}, said not ruled out {warned},"
                f" silent {silent}"
            )
    accused = sum(bool(accusations(unit, "full")) for unit in healthy_tops)
    print(f"Healthy, top speeds only, with ripple, accused: {accused} of {len(healthy_tops)}")
    print(f"{time.perf_counter() - began_s:.0f} s")


def _swept(n: int, seed: int, keep: Path | None) -> tuple[list[Swept], list[Swept], list[Swept]]:
    if keep is not None and keep.exists():
        kept: tuple[list[Swept], list[Swept], list[Swept]] = pickle.loads(keep.read_bytes())
        return kept
    made = (
        list(units(FAULTS, n, seed)),
        list(top_only("open-diode", n, seed)),
        list(top_only("healthy", n, seed)),
    )
    if keep is not None:
        keep.write_bytes(pickle.dumps(made))
    return made


if __name__ == "__main__":
    main()
