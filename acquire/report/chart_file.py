"""The output curve alone, as an SVG or PNG file."""

from __future__ import annotations

from pathlib import Path

from acquire.errors import OrderError
from acquire.record.files import DISK, replace_file
from acquire.report.chart import Chart, chart_of
from acquire.report.chart_svg import PAPER_FONT, WIDTH, draw, height_of
from acquire.report.language import language
from acquire.report.material import material_of
from profiles.settings import Settings

DOTS_PER_INCH = 300.0


def write_chart(run: Path, file: Path, *, settings: Settings) -> Path:
    """Draw the curve of a run into `file`, by its ending.

    Raises:
        OrderError: The ending is neither .svg nor .png, or the file would lie in the run.
        RunFileError: The run cannot be read, or the file cannot be written.
    """
    ending = file.suffix.lower()
    if ending not in (".svg", ".png"):
        raise OrderError(
            f"--chart {file.name}: that is no kind of chart.",
            what_to_do="End its name in .svg or .png.",
        )
    if run.resolve() in file.resolve().parents:
        raise OrderError(
            f"--chart {file.name}: it would lie in the sealed run and break its seal.",
            what_to_do="Write it elsewhere.",
        )
    chart = chart_of(material_of(run, settings), language(settings.report.language))
    data = draw(chart).encode() if ending == ".svg" else png_of(chart)
    replace_file(DISK, file, data)
    return file


def png_of(chart: Chart) -> bytes:
    """The same picture as PNG."""
    import typst

    page = (
        f"#set page(width: {WIDTH}pt, height: {height_of(chart)}pt, margin: 0pt)\n"
        "#image(bytes(sys.inputs.svg), width: 100%)\n"
    )
    made = typst.compile(
        page.encode(),
        format="png",
        ppi=DOTS_PER_INCH,
        ignore_system_fonts=True,
        sys_inputs={"svg": draw(chart, font=PAPER_FONT)},
    )
    if isinstance(made, list):
        return bytes(made[0])
    return bytes(made)
