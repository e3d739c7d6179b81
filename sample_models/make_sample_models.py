"""Makes the sample models: `python sample_models/make_sample_models.py [FOLDER]`, into its own folder by default.

The same bytes at each run. Everything in them is invented; README.md beside this file says what each holds.
"""

from __future__ import annotations

import sys
from pathlib import Path

from garden_studio import write_studio
from steel_wall import write_steel_walls
from two_storey_house import write_house


def main(arguments: list[str]) -> None:
    folder = Path(arguments[0]) if arguments else Path(__file__).resolve().parent
    folder.mkdir(parents=True, exist_ok=True)
    for write in (write_house, write_studio, write_steel_walls):
        print(write(folder))


if __name__ == "__main__":
    main(sys.argv[1:])
