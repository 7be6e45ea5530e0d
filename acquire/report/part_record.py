"""What proves it: notes and photos, cautions confirmed, and the seal with its QR code."""

from __future__ import annotations

from datetime import timedelta
from pathlib import PurePosixPath

from acquire.cautions import NO_SOURCE, SOURCES
from acquire.errors import RunFileError
from acquire.record.flat_names import attachments_in
from acquire.record.json_text import read_bounded
from acquire.record.notes import Attached, Note
from acquire.record.seal import Seal
from acquire.record.sealings import Sealing
from acquire.record.verify import SealProblem
from acquire.report.blocks import (
    Beside,
    Block,
    Column,
    Fact,
    Facts,
    Items,
    Mark,
    Media,
    Paragraph,
    Picture,
    Section,
    Table,
    Words,
)
from acquire.report.language import Language
from acquire.report.material import Material, texts_of
from acquire.report.qr import qr_svg, seal_text
from acquire.report.recorded_words import in_language

LARGEST_PHOTO = 40_000_000
_SIGNATURES: tuple[tuple[bytes, Media], ...] = (
    (b"\x89PNG\r\n\x1a\n", "image/png"),
    (b"\xff\xd8\xff", "image/jpeg"),
    (b"GIF8", "image/gif"),
)


def media_of(data: bytes) -> Media | None:
    """What kind of picture the bytes are, by their own first bytes; None for all else.

    SVG is left out on purpose: it may hold scripts and links.
    """
    for start, media in _SIGNATURES:
        if data.startswith(start):
            return media
    return "image/webp" if data[:4] == b"RIFF" and data[8:12] == b"WEBP" else None


def notes_section(material: Material, language: Language) -> Section | None:
    """Every note with its files; photos are shown."""
    if not material.notes:
        return None
    blocks: list[Block] = []
    for note in material.notes:
        blocks += _note(material, note, language)
    return Section("notes", language.text("section.notes"), tuple(blocks))


def _note(material: Material, note: Note, language: Language) -> list[Block]:
    when, who = language.moment(note.utc, material.header.utc_offset).text, note.who
    head = language.text("note.heading", when=when, who=who)
    blocks: list[Block] = [Paragraph((Words(head, mark="strong"),))]
    if note.text:
        blocks += [Paragraph((Words(line),)) for line in note.text.splitlines() if line.strip()]
    if note.why:
        blocks.append(Paragraph((language.say("note.why", words=note.why),)))
    for number, file in enumerate(note.files, 1):
        blocks.append(_file(material, note, file, f"photo-{note.number}-{number}", language))
    return blocks


def _file(material: Material, note: Note, file: Attached, name: str, language: Language) -> Block:
    size = language.number(max(file.size / 1000.0, 1.0))
    caption = Words(language.text("note.file", name=file.original, size=size), mark="small")
    try:
        path = attachments_in(material.run.folder)[file.name]
        data = read_bounded(path, largest=LARGEST_PHOTO)
    except (KeyError, RunFileError):
        data = b""
    media = media_of(data)
    if media is None:
        return Paragraph((caption,))
    when = language.moment(note.utc, material.header.utc_offset).text
    text = " ".join(note.text.split())[:200]
    key = "note.alt" if text else "note.alt_bare"
    alt = language.text(key, name=file.original, when=when, who=note.who, text=text)
    ending = media.partition("/")[2].replace("jpeg", "jpg")
    return Picture(f"{name}.{ending}", media, data, alt, caption, width_mm=110.0)


# ---- cautions --------------------------------------------------------------------------------


def cautions_section(material: Material, language: Language) -> Section:
    """What was confirmed before anything turned, by whom, and the wiring ticked."""
    data = material.journal_data("cautions accepted") or {}
    title = language.text("section.cautions")
    cautions, wiring = texts_of(data, "cautions"), texts_of(data, "wiring")
    if not cautions:
        return Section("cautions", title, (Paragraph((language.say("caution.none"),)),))
    items = Items(tuple(_caution(caution, language) for caution in cautions))
    facts = []
    if how := texts_of(data, "how"):
        said = ", ".join(language.word_for("confirmed", one).text for one in how)
        facts.append(language.say("caution.how", words=said))
    if wiring:
        said = "; ".join(in_language(language, one).text for one in wiring)
        facts.append(language.say("caution.wiring", words=said))
    return Section("cautions", title, (items, *(Paragraph((fact,)) for fact in facts)))


def _caution(caution: str, language: Language) -> Words:
    words = in_language(language, caution)
    source = SOURCES.get(caution)
    if not source:
        return words
    shown = in_language(language, source).text
    key = "word.without_source" if source == NO_SOURCE else "word.with_source"
    return Words(language.text(key, words=words.text, source=shown), lang=words.lang)


# ---- seal ------------------------------------------------------------------------------------


def seal_section(
    material: Material, language: Language, *, before: Material | None = None
) -> Section:
    """The seal: state, hash of the whole, signature, files, QR code; that of the run before."""
    seal, facts = material.seal, _seal_facts(material, language)
    blocks: list[Block] = [facts]
    if seal is not None:
        qr = qr_picture(seal, language)
        blocks = [Beside((facts,), (qr,), left_share=0.74), _files(seal, language)]
        blocks.append(_small(language, "seal.how", "seal.by_hand"))
    if before is not None:
        blocks.append(Paragraph((language.say("seal.before", mark="strong"),)))
        blocks += [_seal_facts(before, language), _small(language, "seal.before_inside")]
    return Section("seal", language.text("section.seal"), tuple(blocks))


def _small(language: Language, *keys: str) -> Paragraph:
    return Paragraph(tuple(language.say(key, mark="small") for key in keys))


def _seal_facts(material: Material, language: Language) -> Facts:
    seal = material.seal
    stated: list[tuple[str, tuple[Words, ...]]] = [
        ("run", (Words(material.header.run_id, mark="mono"),)),
        ("state", _state(material, language)),
    ]
    if seal is not None:
        stated += [
            ("sealed", (language.moment(seal.sealed_utc, material.header.utc_offset),)),
            ("whole", (Words(seal.whole, mark="mono"),)),
            ("signature", _signatures(material, language)),
        ]
    return Facts(tuple(Fact(language.say(f"seal.{name}"), said) for name, said in stated))


def qr_picture(seal: Seal, language: Language, *, width_mm: float = 34.0) -> Picture:
    """The QR code of the seal."""
    alt = language.text("seal.qr_alt")
    data = qr_svg(seal_text(seal), alt=alt).encode()
    caption = language.say("seal.qr", mark="small")
    return Picture("seal-qr.svg", "image/svg+xml", data, alt, caption, width_mm=width_mm)


def _state(material: Material, language: Language) -> tuple[Words, ...]:
    checked = material.checked
    if material.seal is None:
        return (language.say("seal.no_seal", mark="bad"),)
    if checked.sealed:
        return (language.say("seal.agrees", mark="good"),)
    problems = (_problem(one, language) for one in checked.problems[:20])
    return (language.say("seal.changed", mark="bad"), *problems)


def _problem(problem: SealProblem, language: Language) -> Words:
    words = in_language(language, problem.words)
    return Words(f"{problem.file}: {words.text}", lang=words.lang)


def _signatures(material: Material, language: Language) -> tuple[Words, ...]:
    """Who signed; where notes sealed the run anew and any seal is signed, each for itself."""
    seals, offset = material.checked.seals, material.header.utc_offset
    if all(one.signature == "none" for one in seals):
        return (language.say("seal.unsigned_alone"),)
    if len(seals) == 1:
        return (_signature(seals[0], language),)
    return tuple(_signature_of_several(one, language, offset) for one in seals)


def _signature_of_several(one: Sealing, language: Language, offset: timedelta | None) -> Words:
    signed = _signature(one, language)
    when = language.moment(one.sealed_utc, offset).text
    said = {"when": when, "signature": signed.text}
    if one.note is None:
        return language.say("seal.of_test", mark=signed.mark, **said)
    return language.say("seal.of_note", mark=signed.mark, note=PurePosixPath(one.note).stem, **said)


def _signature(one: Sealing, language: Language) -> Words:
    if one.signature == "none":
        return language.say("seal.unsigned")
    if one.signature == "invalid":
        return language.say("seal.signature_invalid", mark="bad")
    mark: Mark = "mono"
    key = "seal.signed_known" if one.known else "seal.signed"
    return language.say(key, mark=mark, fingerprint=one.key)


def _files(seal: Seal, language: Language) -> Table:
    return Table(
        caption=language.say("seal.files"),
        columns=(
            Column(language.say("seal.name"), align="left"),
            Column(language.say("seal.size")),
            Column(language.say("seal.hash"), align="left"),
        ),
        rows=tuple(
            (Words(file.name), Words(str(file.size)), Words(file.sha256, mark="mono"))
            for file in seal.files
        ),
    )
