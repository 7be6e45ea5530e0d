"""The efficiency in the report: each speed, the weighted figure, its limits, what is unmet."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from acquire.curve.points import Estimate
from acquire.judge.efficiency import WEIGHTS, Efficiency, efficiency, weighted
from acquire.report.material import Material, material_of
from acquire.report.papers import report_paper
from tests.report.runs import Order, make_run, settings
from tests.report.shown import shown

CURRENTS: dict[float, float | None] = {1800.0: 45.0, 3000.0: 45.2, 6000.0: 44.9, 10000.0: 60.0}
TORQUE_NM = {1800.0: 4.25, 3000.0: 2.70, 6000.0: 1.30, 10000.0: 1.10}


def _points(material: Material) -> list[Efficiency]:
    found = []
    for reading in material.readings:
        one = reading.row.measured
        assert one.amps is not None
        assert one.volts is not None
        assert one.shaft_rpm is not None
        assert one.set_rpm is not None
        torque = TORQUE_NM[one.set_rpm]
        found.append(
            efficiency(
                amps=Estimate(one.amps, 0.002 * one.amps),
                volts=Estimate(one.volts, 0.01),
                torque_nm=Estimate(torque, 0.005 * torque),
                shaft_rpm=Estimate(one.shaft_rpm, 0.5),
            )
        )
    return found


def _material(run: Path, speeds: int = 4, **report: str) -> Material:
    material = material_of(run, settings(**report))
    points = _points(material)[:speeds]
    whole = weighted(points)
    found: dict[str, Any] = {"points": [one.to_data() for one in points], "weighted": None}
    if whole is not None:
        found["weighted"] = {"efficiency": whole.value, "u_efficiency": whole.u}
    verdict = {**material.verdict, "efficiency": found}
    return replace(material, run=replace(material.run, verdict=verdict))


def _section(material: Material, start: str, end: str) -> str:
    text = shown(report_paper(material))
    return text[text.index(start) : text.index(end)]


def test_each_speed_shows_torque_powers_and_efficiency_as_measured(tmp_path: Path) -> None:
    run = make_run(tmp_path, Order(amps=dict(CURRENTS)))
    text = _section(_material(run), "## Efficiency", "## Checks")
    # 13.51 V times 45.2 A = 610.7 W; 2.70 Nm at 3001.5 rpm = 848.7 W; 72.0 %
    assert "3002 rpm | 2.70 Nm | 849 W | 611 W | 72.0 ±0.8 % | 0.40" in text
    assert all(f"| {weight:.2f}" in text for weight in WEIGHTS.values())


def test_the_weighted_figure_stands_beside_the_least_of_each_fuel_with_its_source(
    tmp_path: Path,
) -> None:
    run = make_run(tmp_path, Order(amps=dict(CURRENTS)))
    material = _material(run)
    text = _section(material, "## Efficiency", "## Checks")
    whole = material.verdict["efficiency"]["weighted"]["efficiency"]
    assert f"Weighted efficiency: {100 * whole:.1f} ±" in text
    assert "petrol or E85 | 73.8 % | too close to tell" in text
    assert "CNG | 76.3 % | below" in text
    assert "(EU) 2016/588" in text


def test_what_the_decision_asks_for_and_was_not_done_is_named(tmp_path: Path) -> None:
    run = make_run(tmp_path, Order(amps=dict(CURRENTS)))
    text = _section(_material(run), "## Efficiency", "## Checks")
    assert "Method based on Commission Implementing Decision (EU) 2017/785" in text
    assert "- 5 runs in a row; this is one." in text
    assert "Half the rated current (45.0 A) held; it was 60.0 A at 10000 rpm." in text
    assert "14.3 V held; it was up to 0.79 V off." in text
    assert "1200, 1200, 600, 300 s at 1800, 3000, 6000, 10000 rpm" in text


def test_without_all_four_speeds_there_is_no_weighted_figure(tmp_path: Path) -> None:
    run = make_run(tmp_path, Order(amps=dict(CURRENTS)))
    text = _section(_material(run, speeds=2), "## Efficiency", "## Checks")
    assert "No weighted efficiency: not measured at 6000, 10000 rpm." in text
    assert "petrol" not in text


def test_it_is_said_in_german_with_decimal_commas(tmp_path: Path) -> None:
    run = make_run(tmp_path, Order(amps=dict(CURRENTS)))
    material = _material(run, language="de")
    text = _section(material, "## Wirkungsgrad", "## Weitere Prüfungen")
    assert "| 72,0 ±0,8 % | 0,40" in text
    assert "Halber Nennstrom (45,0 A) gehalten; es waren 60,0 A bei 10000 min⁻¹." in text
    assert "{en}" not in text


def test_a_run_without_torque_has_no_such_section(tmp_path: Path) -> None:
    assert "## Efficiency" not in shown(report_paper(material_of(make_run(tmp_path), settings())))
