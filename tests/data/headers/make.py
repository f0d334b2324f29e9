"""Writes the forty logs and their right answers; ``python -m tests.data.headers.make``.

Every fourth log is held out: its description is in ``held_out/sheets.py``, its file and its answers in ``held_out/``.
"""

from __future__ import annotations

from pathlib import Path

from tests.data.headers import english, french, german, portuguese, spanish
from tests.data.headers.sheet import Sheet, answers

__all__ = ["FOLDER", "HELD_OUT", "files", "held_out_files", "open_sheets"]

FOLDER = Path(__file__).parent
HELD_OUT = FOLDER / "held_out"


def open_sheets() -> list[Sheet]:
    """The thirty logs that anybody may read."""
    found = [sheet for module in (english, german, french, spanish, portuguese) for sheet in module.SHEETS]
    return sorted(found, key=lambda sheet: sheet.number)


def files(sheets: list[Sheet]) -> dict[str, bytes]:
    """The bytes of some logs and of their answers, by name of the file."""
    found = {sheet.name: sheet.write() for sheet in sheets}
    return found | {"answers.toml": answers(sheets).encode("utf-8")}


def held_out_files() -> dict[str, bytes]:
    """The same for the held-out logs, read only when they are asked for."""
    from tests.data.headers.held_out.sheets import SHEETS

    return files(SHEETS)


def main() -> None:
    """Write all."""
    for folder, made in ((FOLDER, files(open_sheets())), (HELD_OUT, held_out_files())):
        for name, content in made.items():
            (folder / name).write_bytes(content)


if __name__ == "__main__":
    main()
