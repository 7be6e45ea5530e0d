"""The toolkit of the screens is loaded by the screens alone."""

from __future__ import annotations

import subprocess
import sys

import pytest

WITHOUT_SCREENS = (
    "acquire.bench, acquire.live_run, acquire.sweep.sweep, acquire.cli.plain_run",
    "acquire.screens.keeper, acquire.screens.sweep_gather, acquire.screens.memory",
    "acquire.screens.ready_view, acquire.screens.sweep_view, acquire.screens.result_view",
)


@pytest.mark.parametrize("modules", WITHOUT_SCREENS)
def test_neither_a_run_nor_a_layout_needs_the_toolkit(modules: str) -> None:
    code = f"import sys, {modules}; sys.exit('textual' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], check=False, timeout=60)
    assert done.returncode == 0


def test_what_is_loaded_is_kept_out_of_collections_that_would_hold_keys_up() -> None:
    """Ninety thousand objects of the pages and of what they import."""
    code = (
        "import gc; from acquire.screens.all_pages import keep_for_good; keep_for_good();"
        " raise SystemExit(0 if gc.get_freeze_count() > 50_000 > 10 * len(gc.get_objects()) else 1)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, timeout=60).returncode == 0
