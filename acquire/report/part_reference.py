"""How the chart of the bench's reference unit stood when the run began, as the run itself says."""

from __future__ import annotations

from acquire.report.blocks import Mark, Words
from acquire.report.language import Language
from acquire.report.material import Material
from acquire.study.reference_watch import REFERENCE_WATCHED, ReferenceWatch


def reference_of(material: Material) -> ReferenceWatch | None:
    """None in a run that keeps nothing of it: the rig named no reference unit."""
    data = material.journal_data(REFERENCE_WATCHED)
    return None if data is None else ReferenceWatch.from_data(data)


def reference_short(watch: ReferenceWatch, language: Language) -> Words:
    """In control or not, in two or three words."""
    key = {True: "as_before", False: "not_as_before", None: "unknown"}[watch.in_control]
    mark: Mark = "bad" if watch.warns else ""
    return Words(f"{watch.serial}: {language.text(f'reference.{key}')}", mark=mark)


def reference_words(watch: ReferenceWatch, language: Language) -> Words:
    """The state of the chart, with its figures."""
    key = f"reference.{watch.state.replace(' ', '_')}"
    if watch.warns:
        return Words(f"{watch.serial}: {_stands_out(watch, language)}")
    words = language.text(
        key,
        serial=watch.serial,
        run=language.number(watch.runs),
        day=language.day(watch.last_day).text,
        days=language.number(watch.days_ago or 0),
        every=language.short(watch.every_days or 0.0),
    )
    provisional = f" ({language.text('reference.provisional')})" if watch.provisional else ""
    return Words(f"{words}{provisional}")


def reference_warning(material: Material, language: Language) -> Words | None:
    """What stands under the verdict of a run on a bench that was not in control."""
    watch = reference_of(material)
    if watch is None or not watch.warns:
        return None
    found = _stands_out(watch, language)
    return language.say("reference.warning", mark="bad", serial=watch.serial, found=found)


def _stands_out(watch: ReferenceWatch, language: Language) -> str:
    side = "above" if watch.side == "above" else "below"
    percent = language.number(abs(watch.change_percent or 0.0), 1)
    at = "" if watch.at_rpm is None else language.text(
        "reference.at", rpm=language.number(watch.at_rpm)
    )  # fmt: skip
    said = language.text(
        f"reference.{side}",
        percent=percent,
        at=at,
        run=language.number(watch.runs),
        day=language.day(watch.last_day).text,
    )
    if watch.in_a_row is None:
        return f"{said}, {language.text('reference.outside')}"
    return f"{said}, {language.text('reference.in_a_row', count=language.number(watch.in_a_row))}"
