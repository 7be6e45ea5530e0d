"""Without a rated curve a voltage-holding load stays off: the record says so, and the verdict."""

from __future__ import annotations

import json
from pathlib import Path

from acquire.record.verify import verify
from tests.live.commands import runs_on, steadyamps

TOOK = "the load stayed off"


def test_the_document_and_the_record_caution_that_the_load_stayed_off(tmp_path: Path) -> None:
    shelf, method = tmp_path / "shelf", tmp_path / "short.toml"
    method.write_text('title = "Short"\n[sweep]\nrpm = [3000]\n[settle]\ngive_up_s = 10\n')
    said = steadyamps(
        "--json", "sweep", "--rig", "simulated", "--method", str(method), "--yes", shelf=shelf
    )
    assert said.code == 0, said.err
    (run,) = runs_on(shelf)
    kept = json.loads((run / "verdict.json").read_text("utf-8"))
    for document in (said.document, kept):
        assert document["outcome"] == "not judged"
        assert TOOK in document["reason"]
        (caution,) = document["cautions"]
        assert TOOK in caution
    assert "! No test voltage was known" in said.err
    assert verify(run).sealed
    again = steadyamps(
        "--json", "judge", str(run), "--rated", "small-frame-14v-90a", shelf=shelf
    ).document
    assert again["outcome"] == "undecided", again["reason"]
    assert TOOK in again["cautions"][0]
