"""Pictures of every page come from one command."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

from acquire.screens.look import Look
from acquire.screens.pictures import main, views


def test_every_page_has_its_picture(tmp_path: Path) -> None:
    assert main([str(tmp_path), "--size", "80x24"]) == 0
    names = {path.stem for path in tmp_path.iterdir()}
    assert names == set(views(Look()))
    for path in tmp_path.iterdir():
        text = "".join(ElementTree.fromstring(path.read_text(encoding="utf-8")).itertext())
        assert len(text.split()) > 20, path
    said = (tmp_path / "sweep.svg").read_text(encoding="utf-8").replace("&#160;", " ")
    assert "Holding at 2000 rpm." in said
