"""curve.csv-metadata.json: what the columns of curve.csv are, for any program that reads CSVW.

Source: W3C Recommendation "Metadata Vocabulary for Tabular Data", 17 December 2015. Units of
measure are given with schema.org's `unitText` and `unitCode` (UN/CEFACT Recommendation 20 common
codes, from memory).
"""

from __future__ import annotations

from typing import Any

from acquire.record.curve_table import COLUMNS, CURVE_FILE, TEXT_COLUMNS, WHOLE_COLUMNS
from acquire.record.json_text import many_lines

CSVW_FILE = "curve.csv-metadata.json"
RPM = ("rpm", "RPM")
AMPERE = ("A", "AMP")
VOLT = ("V", "VLT")
CELSIUS = ("°C", "CEL")
SECOND = ("s", "SEC")

WORDS: dict[str, tuple[str, tuple[str, str] | None]] = {
    "step": ("Number of the step, 1 for the first", None),
    "set_rpm": ("Shaft speed asked for", RPM),
    "shaft_rpm": ("Measured shaft speed", RPM),
    "u_shaft_rpm": ("Standard uncertainty of shaft_rpm (k = 1)", RPM),
    "amps": ("Output current at the measured speed", AMPERE),
    "u_amps": ("Standard uncertainty of amps (k = 1), all parts but the speed part", AMPERE),
    "volts": ("Output voltage", VOLT),
    "u_volts": ("Standard uncertainty of volts (k = 1)", VOLT),
    "case_c": ("Case temperature", CELSIUS),
    "settled": ("yes: settled; predicted: final value known well enough; no: time was up", None),
    "settle_s": ("Time from reaching the speed to the steady point", SECOND),
    "readings": ("Readings of the current used", None),
    "amps_at_set_rpm": ("Output current moved to set_rpm", AMPERE),
    "u_amps_at_set_rpm": ("Standard uncertainty of amps_at_set_rpm (k = 1), all parts", AMPERE),
    "rated_amps": ("Rated current at this speed", AMPERE),
    "limit_amps": ("Lowest current accepted at this speed", AMPERE),
    "margin_amps": ("amps_at_set_rpm less limit_amps", AMPERE),
    "p_conform": ("Probability that the current meets the limit, 0 to 1", None),
    "outcome": ("pass, fail, undecided, not judged, or not measured", None),
}


def curve_metadata() -> bytes:
    """The file's content."""
    return many_lines(
        {
            "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
            "url": CURVE_FILE,
            "dc:title": "Output curve of an alternator: one row a step",
            "dialect": {"encoding": "utf-8", "header": True, "lineTerminators": ["\r\n"]},
            "tableSchema": {
                "columns": [_column(name) for name in COLUMNS],
                "primaryKey": "step",
            },
        }
    )


def _column(name: str) -> dict[str, Any]:
    words, unit_of_measure = WORDS[name]
    column: dict[str, Any] = {
        "name": name,
        "titles": name,
        "dc:description": words,
        "datatype": _datatype(name),
        "required": name == "step",
    }
    if unit_of_measure:
        column["schema:unitText"], column["schema:unitCode"] = unit_of_measure
    return column


def _datatype(name: str) -> str | dict[str, object]:
    if name in WHOLE_COLUMNS:
        return {"base": "integer", "minimum": 1 if name == "step" else 0}
    if name in TEXT_COLUMNS:
        return "string"
    return {"base": "number", "minimum": 0, "maximum": 1} if name == "p_conform" else "number"
