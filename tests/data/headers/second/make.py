"""Writes the forty logs of the second exam and their right answers; ``python -m tests.data.headers.second.make``.

Every second log is held out: its description, its file and its answers are in ``held_out/``.
"""

from __future__ import annotations

from pathlib import Path

from tests.data.headers.make import files
from tests.data.headers.second import english, french, german, italian, portuguese, spanish
from tests.data.headers.sheet import Sheet

__all__ = ["FOLDER", "HELD_OUT", "held_out_files", "open_sheets"]

FOLDER = Path(__file__).parent
HELD_OUT = FOLDER / "held_out"


def open_sheets() -> list[Sheet]:
    """The twenty logs that anybody may read."""
    modules = (english, french, german, italian, portuguese, spanish)
    return sorted((sheet for module in modules for sheet in module.SHEETS), key=lambda sheet: sheet.number)


def held_out_files() -> dict[str, bytes]:
    """The bytes of the held-out logs and of their answers, read only when they are asked for."""
    from tests.data.headers.second.held_out.sheets import SHEETS

    return files(SHEETS)


def main() -> None:
    """Write all."""
    for folder, made in ((FOLDER, files(open_sheets())), (HELD_OUT, held_out_files())):
        for name, content in made.items():
            (folder / name).write_bytes(content)


if __name__ == "__main__":
    main()
