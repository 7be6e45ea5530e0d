"""What stays for the next unit, and what is looked at again."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest

from acquire.record.run_header import Job
from acquire.screens.choices import Choices
from profiles.catalogue import load_method, load_rated
from tests.screens.stand_in import PLATE, by_hand


def all_seen_to() -> Choices:
    """Everything chosen, ticked and accepted by Nell."""
    choices = by_hand(serial="A-17", unit="grey case", stage="before", operator="Nell")
    choices.rated = load_rated(PLATE)
    choices.steps = (1500.0, 6000.0)
    choices.job = Job(number="J-1044")
    choices.ticked = set(choices.wiring)
    choices.accept_cautions()
    assert choices.wiring_ticked
    assert choices.cautions_accepted
    return choices


@pytest.mark.parametrize(
    "change",
    [
        Choices.next_unit,
        Choices.same_unit,
        lambda choices: choices.set_operator("Bob"),
        lambda choices: choices.take_order(choices.order()),
    ],
    ids=["next unit", "same unit", "another operator", "an interrupted run"],
)
def test_cautions_and_wiring_are_seen_to_again(change: Callable[[Choices], None]) -> None:
    """They speak of the unit as it sits there, and are accepted by who tests."""
    for confirmed in (False, True):
        choices = all_seen_to()
        choices.confirmed_elsewhere = confirmed
        change(choices)
        assert not choices.wiring_ticked
        assert not choices.cautions_accepted
        assert choices.accepted()["accepted_utc"] is None


def test_cautions_are_accepted_for_one_day() -> None:
    choices = all_seen_to()
    assert choices.rig is not None
    title = choices.rig.profile.title
    yesterday = datetime.now(UTC) - timedelta(days=1)
    choices.cautions_by[title] = yesterday.isoformat(timespec="seconds").replace("+00:00", "Z")
    assert not choices.cautions_accepted
    choices.accept_cautions()
    assert choices.cautions_accepted


def test_a_name_typed_where_none_stood_takes_nothing_back() -> None:
    choices = all_seen_to()
    choices.operator = ""
    choices.set_operator("Nell")
    choices.set_operator("Nell")
    assert choices.cautions_accepted
    assert choices.wiring_ticked


def test_nothing_of_one_unit_stays_for_the_next_but_rig_method_rule_and_operator() -> None:
    choices = all_seen_to()
    rig, method, rule = choices.rig, choices.method, choices.rule
    choices.next_unit()
    assert (choices.serial, choices.unit, choices.stage, choices.job) == ("", "", "", Job())
    assert choices.rated is None
    assert choices.steps is None, "speeds asked for one rated curve do not suit another"
    assert (choices.rig, choices.method, choices.rule) == (rig, method, rule)
    assert choices.operator == "Nell"


def test_another_method_brings_its_own_speeds() -> None:
    choices = all_seen_to()
    choices.set_method(load_method("fine"))
    assert choices.steps is None
