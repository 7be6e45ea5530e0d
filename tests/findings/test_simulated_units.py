"""A miniature of the benchmark: units and machines that the rules were not made on."""

from __future__ import annotations

import json
import re
from functools import lru_cache

import pytest

from acquire.findings.finding import Finding
from acquire.findings.seen import Seen, seen_in
from acquire.record.journal import JournalEntry
from tests.benchmarks.findings import HINT, accusations, first_name, names_of, setting_of
from tests.findings.units import FAULTS, FOR_MEASURING, Reads, Setting, Swept, judged, swept

SEEDS = (91, 92)
UNSEEN: dict[Reads, tuple[str, ...]] = {
    "plain": ("uneven-phase", "cable-drop", "wrong-poles"),
    "full": ("uneven-phase",),
    "fast": (),
}
"""What a rig without the channels for it cannot see."""
OFTEN = ("open-diode", "open-phase", "weak-field")
FIELD_PAIR = ("weak field", "shorted turns")


@lru_cache(maxsize=64)
def unit(fault: str, seed: int, *, top_only: bool = False) -> Swept:
    setting = Setting(top_only=True) if top_only else setting_of(fault, seed)
    return swept(fault, seed, FOR_MEASURING, setting)


@pytest.mark.parametrize(
    ("fault", "seed"),
    [(f, SEEDS[0]) for f in FAULTS] + [(f, SEEDS[1]) for f in ("healthy", *OFTEN)],
)
def test_each_fault_gets_its_name_by_what_the_rig_reads(fault: str, seed: int) -> None:
    for reads, unseen in UNSEEN.items():
        name = first_name(accusations(unit(fault, seed), reads))
        if fault in unseen:
            assert name == "-"
        elif fault in ("weak-field", "shorted-turns") and reads == "plain":
            assert name in FIELD_PAIR
        else:
            assert name in names_of(fault)


@pytest.mark.parametrize("fault", FAULTS)
def test_no_finding_is_a_bare_guess(fault: str) -> None:
    for finding in judged(unit(fault, SEEDS[0]), "full").findings:
        assert finding.words.endswith((".", "?"))
        assert finding.evidence
        assert any(re.search(r"\d", sentence) for sentence in finding.evidence)
        assert finding.rests_on
        assert finding.what_would_settle
        kept = json.loads(json.dumps(finding.to_data()))
        assert {"name", "words", "evidence", "sure", "what_would_settle", "caution"} <= kept.keys()
        assert kept["sure"] in ("certain", "likely", "possible")


def test_an_open_diode_is_never_passed_over_at_high_speed_alone() -> None:
    for seed in SEEDS:
        high = unit("open-diode", seed, top_only=True)
        assert first_name(accusations(high, "full")) == "open diode"
        assert {"open diode", HINT} & {f.name for f in judged(high, "plain").findings}


def test_a_sound_unit_is_told_the_same_at_high_speed_and_not_accused() -> None:
    high = unit("healthy", SEEDS[0], top_only=True)
    assert {f.name for f in judged(high, "plain").findings} <= {HINT}
    assert judged(high, "full").findings == ()


def test_a_fail_says_next_what_its_finding_asks_for() -> None:
    failed = [
        v for s in SEEDS if (v := judged(unit("open-diode", s), "plain").verdict).outcome == "fail"
    ]
    assert failed
    for verdict in failed:
        assert verdict.reason.endswith("An open diode does this: check the ripple.")


def test_no_output_is_never_a_plain_fail() -> None:
    for fault in ("not-excited", "dead"):
        verdict = judged(unit(fault, SEEDS[0]), "plain").verdict
        assert "No output: not excited, or dead?" in verdict.reason
        assert "brushes" in verdict.what_next


def test_a_worn_brush_keeps_an_undecided_verdict_from_asking_for_patience() -> None:
    verdict = judged(unit("worn-brush", SEEDS[0]), "plain").verdict
    assert verdict.outcome != "pass"
    assert "brushes and rings" in verdict.what_next


def test_the_findings_are_kept_with_the_verdict() -> None:
    judgement = judged(unit("open-phase", SEEDS[0]), "full")
    kept = judgement.document["findings"]
    assert [one["name"] for one in kept] == [f.name for f in judgement.findings]


def test_the_journal_gives_back_what_the_run_has_shown() -> None:
    seen = unit("healthy", SEEDS[0]).seen
    again = seen_in(_journal_of(seen))
    assert again.steps == seen.steps
    assert again.rest_volts == seen.rest_volts
    assert again.ripple_lines == seen.ripple_lines


def _journal_of(seen: Seen) -> list[JournalEntry]:
    """As the bench writes it, through JSON."""
    zero = {"amps": seen.zero_amps, "volts": seen.rest_volts}
    entries = [JournalEntry(0.0, "", "zero taken", zero)]
    for step in seen.steps.values():
        channels = {
            name: {
                "mean": c.mean,
                "u": c.u,
                "unsteady": c.unsteady,
                "readings": c.readings,
                "rejected": c.rejected,
                "drift": c.drift,
            }
            for name, c in step.channels.items()
        }
        data = {
            "step": step.step,
            "set_rpm": step.set_rpm,
            "told_rpm": step.told_rpm,
            "settle_s": step.settle_s,
            "channels": channels,
        }
        entries.append(JournalEntry(0.0, "", "steady point", json.loads(json.dumps(data))))
    for number, lines in seen.ripple_lines.items():
        lines_data = json.loads(json.dumps({"step": number, "lines": dict(lines)}))
        entries.append(JournalEntry(0.0, "", "ripple lines", lines_data))
    return entries


def test_the_most_certain_finding_comes_first() -> None:
    for fault in FAULTS:
        weights = [f.weight for f in _findings(fault)]
        assert weights == sorted(weights, reverse=True)


def _findings(fault: str) -> tuple[Finding, ...]:
    return judged(unit(fault, SEEDS[0]), "plain").findings
