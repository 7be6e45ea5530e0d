"""What the readiness list says of a stop that did not work."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

from acquire.readiness import stopping
from drivers.bench_wiring import BenchWiring
from drivers.errors import CannotOpen
from profiles.catalogue import load_rig


def test_what_does_not_stop_is_told_in_whole_sentences_with_one_full_stop_each() -> None:
    def refuses(_: float) -> None:
        raise CannotOpen("drive", "there is no port X9.", what_to_do="Plug the adapter in.")

    drive = SimpleNamespace(found_running=False, halt=refuses)
    load = SimpleNamespace(off_now=refuses)
    wiring = cast("BenchWiring", SimpleNamespace(drive=drive, load=load, field=None))
    items = list(stopping(load_rig("simulated").profile, wiring))
    assert len(items) == 2
    for item in items:
        assert item.state == "bad"
        assert item.words == "drive: there is no port X9. Plug the adapter in"
