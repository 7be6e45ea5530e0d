"""The papers of a run: the report, the one-page sheet, the tie-on tag, each as one model."""

from __future__ import annotations

import mimetypes
from dataclasses import replace
from pathlib import Path

from acquire.errors import OrderError, RunFileError
from acquire.record.flat_names import flat_name, names_in_record
from acquire.record.json_text import read_bounded
from acquire.record.seal import SEAL_FILE, files_of, is_leftover
from acquire.report.blocks import (
    Attachment,
    Beside,
    Block,
    Maker,
    Paper,
    PaperSize,
    Paragraph,
    Picture,
    Section,
    Signature,
    Words,
)
from acquire.report.language import Language, language
from acquire.report.line_breaks import shortened
from acquire.report.material import LARGEST_FILE, Material, SpeedRow
from acquire.report.part_before import before_section
from acquire.report.part_conditions import conditions_section
from acquire.report.part_doubt import doubt_section, readings_section
from acquire.report.part_efficiency import efficiency_section
from acquire.report.part_engine import Engine, engine_section
from acquire.report.part_figures import checks_section, figures_section, findings_section, row_at
from acquire.report.part_means import instruments_section, means_section
from acquire.report.part_record import (
    cautions_section,
    media_of,
    notes_section,
    qr_picture,
    seal_section,
)
from acquire.report.part_verdict import (
    besides_section,
    chart_picture,
    head_facts,
    speeds_section,
    speeds_table,
    verdict_box,
    verdict_section,
)
from acquire.typed_path import path_in_settings

REPORT_BEFORE = "report-before"
"""Name of the report of the run before, inside the PDF of the report."""
SHEET_CHART_MM = 104.0
SHEET_ROWS = 10
"""So many rows stand on the one-page sheet; the report has them all."""
LONGEST_RUNNING = 32
"""Characters of a job or serial number in the line on each page."""


def report_paper(
    material: Material, *, before: Material | None = None, engine: Engine | None = None
) -> Paper:
    """The whole report. Raises ProfileError for a language that there is not."""
    words = language(material.settings.report.language)
    sections = (
        verdict_section(material, words, before=before),
        speeds_section(material, words),
        besides_section(material, words),
        before_section(material, before, words) if before is not None else None,
        figures_section(material, words),
        engine_section(material, engine, words) if engine is not None else None,
        efficiency_section(material, words),
        checks_section(material, words),
        findings_section(material, words),
        doubt_section(material, words),
        conditions_section(material, words),
        readings_section(material, words),
        instruments_section(material, words),
        means_section(material, words),
        notes_section(material, words),
        cautions_section(material, words),
        seal_section(material, words, before=before),
    )
    there = tuple(section for section in sections if section is not None)
    paper = _paper("report", material, words, there, attachments=attachments_of(material))
    return paper if before is None else replace(paper, enclosed=(_report_before(before),))


def _report_before(before: Material) -> Paper:
    """The run before as a report of its own: whole, with its sealed files and their seal."""
    return replace(report_paper(before), name=REPORT_BEFORE)


def sheet_paper(material: Material) -> Paper:
    """One page to be signed."""
    words = language(material.settings.report.language)
    more = words.say("sheet.more", mark="small", run=material.header.run_id)
    head: Block = head_facts(material, words, short=True)
    if material.seal is not None:
        qr = qr_picture(material.seal, words, width_mm=26.0)
        head = Beside((head,), (qr,), left_share=0.8)
    blocks: list[Block] = [head, verdict_box(material, words)]
    blocks.append(chart_picture(material, words, width_mm=SHEET_CHART_MM))
    if material.rows:
        blocks.append(speeds_table(replace(material, rows=_few_rows(material)), words))
    blocks.append(Signature((words.say("sheet.signed"), words.say("sheet.received"))))
    blocks.append(Paragraph((more,)))
    return _paper("sheet", material, words, (Section("verdict", "", tuple(blocks)),))


def _few_rows(material: Material) -> tuple[SpeedRow, ...]:
    """The judged rows first, then others, at most as many as the sheet has room for."""
    judged = [row for row in material.rows if row.limit_amps is not None]
    chosen = (judged or list(material.rows))[:]
    step = max(1, -(-len(chosen) // SHEET_ROWS))
    return tuple(row for k, row in enumerate(chosen) if k % step == 0 or k == len(chosen) - 1)


def tag_paper(material: Material) -> Paper:
    """A tag to tie on: job, serial, amps at two speeds, verdict, QR code."""
    words = language(material.settings.report.language)
    box, stage = verdict_box(material, words), _stage(material, words)
    began = words.moment(material.header.began_utc, material.header.utc_offset)
    left: list[Block] = [
        Paragraph((Words(f"{box.sign} {box.word.text}", mark=box.mark or "strong"), *stage)),
        *(Paragraph((Words(line, mark="strong"),)) for line in _running(material, words)),
        *(Paragraph((_tag_amps(row, words),)) for row in _two_rows(material)),
        Paragraph((words.say("tag.tested", when=began.text),)),
    ]
    blocks: tuple[Block, ...] = tuple(left)
    if material.seal is not None:
        qr = qr_picture(material.seal, words, width_mm=30.0)
        bare = Picture(qr.name, qr.media, qr.data, qr.alt, None, qr.width_mm)
        blocks = (Beside(tuple(left), (bare,), left_share=0.62),)
    paper = _paper("tag", material, words, (Section("tag", "", blocks),), size="tag")
    workshop = shortened(paper.maker.name, LONGEST_RUNNING)
    return replace(paper, title=f"{paper.title}, {workshop}") if workshop else paper


def _stage(material: Material, words: Language) -> tuple[Words, ...]:
    """Before or after the rebuild: a unit may bear a tag of each."""
    if not material.header.stage:
        return ()
    stage = words.word_for("stage", material.header.stage)
    return (replace(stage, text=shortened(stage.text, LONGEST_RUNNING)),)


def _two_rows(material: Material) -> list[SpeedRow]:
    """The first and the last rated speed; of those measured where none is rated."""
    measured = [row for row in material.rows if row.amps is not None]
    speeds = [rpm for rpm, _ in material.rated.points] if material.rated else []
    rated = [row for rpm in speeds[:1] + speeds[1:][-1:] if (row := row_at(material, rpm))]
    return rated or measured[:1] + measured[1:][-1:]


def _tag_amps(row: SpeedRow, words: Language) -> Words:
    amps, rpm = words.with_doubt(row.amps, row.half_amps), words.number(row.shaft_rpm)
    if amps.mark == "missing":
        return words.say("tag.missing", rpm=rpm, missing=amps.text)
    return words.say("tag.amps", amps=amps.text, rpm=rpm)


# ---- what all papers have in common ----------------------------------------------------------


def _paper(
    name: str,
    material: Material,
    words: Language,
    sections: tuple[Section, ...],
    *,
    size: PaperSize | None = None,
    attachments: tuple[Attachment, ...] = (),
) -> Paper:
    job, serial = _running(material, words)
    return Paper(
        name=name,
        language=words.code,
        title=words.text(f"title.{name}"),
        maker=maker_of(material),
        size=size or material.settings.report.paper,
        running=(f"{job}, {serial}", words.text("word.run", run=material.header.run_id)),
        page_words=words.texts["word.page"],
        banners=banners_of(material, words),
        sections=sections,
        attachments=attachments,
        made_utc=material.seal.sealed_utc if material.seal else material.header.began_utc,
    )


def _running(material: Material, words: Language) -> tuple[str, str]:
    header = material.header
    job, serial = header.job.number, header.serial
    return (
        words.text("word.job", job=shortened(job, LONGEST_RUNNING))
        if job
        else words.text("word.no_job"),
        words.text("word.serial", serial=shortened(serial, LONGEST_RUNNING))
        if serial
        else (words.text("word.no_serial")),
    )


def banners_of(material: Material, words: Language) -> tuple[str, ...]:
    """What must be said on every page."""
    header, checked = material.header, material.checked
    said = []
    if header.simulated:
        said.append("simulated")
    if header.state == "running":
        said.append("running")
    elif header.state == "stopped":
        said.append("stopped")
    if header.state == "running" or material.seal is None:
        said.append("unsealed")
    elif not checked.sealed:
        said.append("broken")
    return tuple(words.text(f"banner.{name}") for name in said)


def maker_of(material: Material) -> Maker:
    """The workshop as the settings have it; a logo that cannot be used is left out."""
    workshop = material.settings.workshop
    address = tuple(line.strip() for line in workshop.address.splitlines() if line.strip())
    return Maker(workshop.name, address, _logo(workshop.logo, workshop.name))


def logo_problem(material: Material) -> str:
    """Why the logo of the settings does not stand on the paper; empty where all is well."""
    logo = material.settings.workshop.logo
    if not logo or maker_of(material).logo is not None:
        return ""
    return f"The logo {logo} is not there, or no PNG, JPEG, GIF or WebP: left out."


def _logo(path_text: str | None, name: str) -> Picture | None:
    if not path_text:
        return None
    try:
        path = path_in_settings(path_text)
    except OrderError:
        return None
    try:
        data = read_bounded(path, largest=LARGEST_FILE)
    except RunFileError:
        return None
    media = media_of(data)
    if media is None:
        return None
    ending = media.partition("/")[2].replace("jpeg", "jpg")
    return Picture(f"logo.{ending}", media, data, name or "logo", None, width_mm=32.0)


def attachments_of(material: Material) -> tuple[Attachment, ...]:
    """Every sealed file and the seal, as they are on the disk, by names that come out of a PDF."""
    folder = material.run.folder
    paths = names_in_record(files_of(folder), folder)
    if material.seal is not None:
        sealed = set(material.seal.by_name())
        paths = {name: path for name, path in paths.items() if name in sealed}
        paths[SEAL_FILE] = folder / SEAL_FILE
    names = sorted(name for name in paths if not is_leftover(name))
    return tuple(
        Attachment(
            flat_name(name), read_bounded(paths[name], largest=LARGEST_FILE), _media_type(name)
        )
        for name in names
        if paths[name].is_file() and not paths[name].is_symlink()
    )


def _media_type(name: str) -> str:
    if name.endswith(".jsonl"):
        return "application/x-ndjson"
    known = {".json": "application/json", ".csv": "text/csv"}
    ending = Path(name).suffix.lower()
    return known.get(ending) or mimetypes.guess_type(name)[0] or "application/octet-stream"
