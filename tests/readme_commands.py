"""The two set-up commands of README.md, read from it, so that CI runs what a newcomer types.

python tests/readme_commands.py run|test
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
NAMES = ("run", "test")


def set_up_commands(readme: str) -> dict[str, str]:
    """The commands in the section 'Set up' by name: the first runs the main job, the second the tests.

    Raises ValueError where the section does not hold exactly two one-line shell blocks.
    """
    section = re.search(r"^## Set up$(.*?)^## ", readme, re.MULTILINE | re.DOTALL)
    blocks = re.findall(r"^```sh\n(.+?)\n```$", section.group(1), re.MULTILINE | re.DOTALL) if section else []
    if len(blocks) != len(NAMES) or any("\n" in block for block in blocks):
        raise ValueError("README.md, section 'Set up', must hold exactly two shell blocks of one line each")
    return dict(zip(NAMES, blocks, strict=True))


if __name__ == "__main__":
    sys.stdout.write(set_up_commands((ROOT / "README.md").read_text(encoding="utf-8"))[sys.argv[1]] + "\n")
