"""Every language is complete, and the record's own sentences are known in each."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator
from itertools import product
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.cautions import ABOARD, PILE, SOURCES
from acquire.judge.acceptance import acceptance_words
from acquire.judge.circumstances import Circumstances
from acquire.judge.verdict import judge
from acquire.report.language import FOLDER, known_languages, language
from acquire.report.recorded_words import in_language
from profiles.rule import Accept
from tests.judge.benchwork import rated_curve, read, within

OTHERS = [code for code in known_languages() if code != "en"]
_PLACE = re.compile(r"\{(\w+)\}")


def _table(code: str) -> dict[str, dict[str, str]]:
    table = tomllib.loads((FOLDER / f"{code}.toml").read_text(encoding="utf-8"))
    table.pop("phrase", None)
    return table


@pytest.mark.parametrize("code", OTHERS)
def test_a_language_has_every_text_with_the_same_placeholders(code: str) -> None:
    ours, theirs = _table("en"), _table(code)
    assert {(g, k) for g in ours for k in ours[g]} == {(g, k) for g in theirs for k in theirs[g]}
    for group, texts in ours.items():
        for key, text in texts.items():
            places = set(_PLACE.findall(text))
            assert places == set(_PLACE.findall(theirs[group][key])), f"{code}: {group}.{key}"


@pytest.mark.parametrize("code", OTHERS)
def test_a_phrase_has_its_placeholders_on_both_sides(code: str) -> None:
    for source, target in language(code).phrases.items():
        assert set(_PLACE.findall(target)) == set(_PLACE.findall(source)), source


@pytest.mark.parametrize("code", known_languages())
def test_no_text_stays_unused(code: str) -> None:
    source = "\n".join(
        path.read_text(encoding="utf-8") for path in Path(FOLDER.parent).glob("*.py")
    )
    for group, texts in _table(code).items():
        assert f'"{group}.' in source or f'"{group}"' in source, group
        if f'word_for("{group}"' in source or group in ("unit", "outcome_sentence"):
            continue
        for key in texts:
            named = f'"{group}.{key}"' in source
            built = f'"{group}.{{' in source and f'"{key}"' in source
            half = re.search(rf'"{group}\.\w*\{{', source)
            assert named or built or half, f"{group}.{key}"


def _verdicts() -> Iterator[dict[str, object]]:
    """Verdicts of every kind, with their cautions."""
    good = [(1500.0, 52.0), (2000.0, 71.0), (3000.0, 85.0), (6000.0, 93.0)]
    weak = [(1500.0, 26.0), (2000.0, 51.0), (3000.0, 76.0), (6000.0, 93.0)]
    short = [(1500.0, 52.0), (2000.0, 71.0)]
    near = [(1500.0, 40.6), (2000.0, 54.1), (3000.0, 69.4), (6000.0, 81.2)]
    odd = [(1700.0, 57.0), (2600.0, 80.0), (4000.0, 88.0)]
    states: tuple[Circumstances, ...] = (
        Circumstances(state="warm"),
        Circumstances(state="cold"),
        Circumstances(),
        Circumstances(state="warm", test_volts=13.8),
        Circumstances(state="warm", stopped="the operator typed stop."),
    )
    for pairs, circumstances in product((good, weak, short, near, odd), states):
        points = [read(n, rpm, amps) for n, (rpm, amps) in enumerate(pairs, 1)]
        for accept in (within(), within(decision="simple"), within(at="measured speeds")):
            verdict = judge(points, rated=rated_curve(), accept=accept, circumstances=circumstances)
            yield verdict.to_data()
    unsteady = [read(1, 1500.0, 40.7, settled="no"), read(2, 6000.0, 93.0, volts=None)]
    for derived in (False, True):
        curve = rated_curve(((1500.0, 45.0), (6000.0, 90.0)), derived=derived)
        for circumstances in states:
            verdict = judge(unsteady, rated=curve, accept=within(), circumstances=circumstances)
            yield verdict.to_data()
    low_volts = [read(1, 1500.0, 52.0, volts=13.1), read(2, 6000.0, 93.0)]
    curve = rated_curve(((1500.0, 45.0), (6000.0, 90.0)))
    yield judge(
        low_volts, rated=curve, accept=within(), circumstances=Circumstances(state="warm")
    ).to_data()
    yield judge(low_volts, rated=None, accept=None).to_data()


@pytest.mark.parametrize("code", OTHERS)
def test_every_verdict_and_its_cautions_are_known_in_the_language(code: str) -> None:
    said = set()
    for data in _verdicts():
        cautions = data["cautions"]
        assert isinstance(cautions, list)
        said |= {str(data["reason"]), *cautions}
    foreign = sorted(text for text in said if in_language(language(code), text).lang)
    assert len(said) > 40
    assert foreign == []


@pytest.mark.parametrize("code", OTHERS)
def test_the_cautions_before_a_test_are_known_in_the_language(code: str) -> None:
    for text in (*SOURCES, *SOURCES.values(), ABOARD, PILE):
        assert not in_language(language(code), text).lang, text


@pytest.mark.parametrize("code", OTHERS)
@pytest.mark.parametrize(
    "accept",
    [
        Accept(below_percent=10),
        Accept(below_amps=10.5),
        Accept(at_least_percent=70),
        Accept(on_or_above=True),
        Accept(below_percent=10, below_amps=5),
    ],
)
def test_every_acceptance_rule_is_known_in_the_language(code: str, accept: Accept) -> None:
    assert not in_language(language(code), acceptance_words(accept)).lang


def test_german_sentences_have_german_numbers_and_lists() -> None:
    words = in_language(
        language("de"), "Not settled when time was up, doubt widened: 1500, 2000 and 6000 rpm."
    )
    assert words.text.endswith("1500, 2000 und 6000 min⁻¹.")
    assert "52,1 A" in in_language(
        language("de"), "At 1500 rpm it gives 52.1 A where 40.5 A is allowed"
    ).text  # fmt: skip


def test_a_sentence_that_is_not_known_stays_whole_and_is_marked_as_english() -> None:
    text = "Fails. At 1500 rpm it gives 26.4 A where 40.5 A is allowed. The moon is full."
    words = in_language(language("de"), text)
    assert (words.text, words.lang) == (text, "en")


@given(st.text(max_size=80))
def test_no_text_of_a_record_breaks_the_translation(text: str) -> None:
    words = in_language(language("de"), text)
    assert words.text or not text


@pytest.mark.parametrize(
    ("code", "value", "decimals", "text"),
    [
        ("en", 45.24, 1, "45.2"),
        ("de", 45.24, 1, "45,2"),
        ("de", -5.21, 1, "−5,2"),
        ("en", -0.01, 1, "0.0"),
        ("de", 12345.0, 0, "12345"),
    ],
)
def test_numbers_are_written_as_the_language_does(
    code: str, value: float, decimals: int, text: str
) -> None:
    assert language(code).number(value, decimals) == text


def test_what_is_not_known_is_said_to_be_missing() -> None:
    for words in (language("en").amount(None, "A"), language("en").amount(float("nan"), "A")):
        assert (words.text, words.mark) == ("not recorded", "missing")


def test_a_chance_is_never_rounded_up_to_certainty() -> None:
    assert language("en").chance(1.0 - 1e-12).text == "99.9 %"
    assert language("de").chance(1e-9).text == "< 0,1 %"


def test_a_third_language_needs_one_file_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import acquire.report.language as module

    for code in ("en", "de"):
        (tmp_path / f"{code}.toml").write_bytes((FOLDER / f"{code}.toml").read_bytes())
    texts = (FOLDER / "en.toml").read_text(encoding="utf-8")
    (tmp_path / "xx.toml").write_text(texts.replace('"Passes"', '"Goes"'), encoding="utf-8")
    monkeypatch.setattr(module, "FOLDER", tmp_path)
    assert known_languages() == ["de", "en", "xx"]
    try:
        assert language("xx").text("outcome.pass") == "Goes"
    finally:
        language.cache_clear()


def test_the_language_files_are_plain_text_without_markup() -> None:
    for code in known_languages():
        assert not re.search(r"[<>]\w", json.dumps(_table(code)))
