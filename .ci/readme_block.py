"""Print the n-th fenced `sh` block of README.md: the commands that must work as they stand."""

from __future__ import annotations

import re
import sys
from pathlib import Path

readme = Path(__file__).parent.parent / "README.md"
blocks = re.findall(r"^```sh\n(.*?)^```", readme.read_text(encoding="utf-8"), re.M | re.S)
sys.stdout.write(blocks[int(sys.argv[1]) - 1])
