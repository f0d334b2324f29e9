"""Both readers of tables pass one suite."""

from __future__ import annotations

import numpy as np

from tests.contracts.reader_suite import ReaderContract
from witnessmark.testing.signals import edge_list, missing_tooth_wheel, turning
from witnessmark.testing.writing import Writing, written


def replaced(data: bytes, row: int, line: bytes) -> bytes:
    """The file with one of its lines exchanged."""
    lines = data.split(b"\n")
    lines[row] = line
    return b"\n".join(lines)


class TableContract(ReaderContract):
    """Damages that every table can suffer; ``line`` is line 41 of the file."""

    def damages(self) -> dict[str, tuple[bytes, tuple[str, ...]]]:
        sound = self.sound()
        lines = sound.split(b"\n")
        earlier, later = lines[20].split(b",")[0], lines[60].split(b",")[0]
        row = lines[40].split(b",")
        tail = b"," + b",".join(row[1:])
        return {
            "empty": (b"", ("empty",)),
            "blank": (b" \n\n  \n", ("empty",)),
            "binary": (bytes(range(256)) * 20, ("not a table of text",)),
            "words": (b"Dear customer,\nthe car is ready.\n", ("no rows of numbers",)),
            "headings only": (lines[0] + b"\n", ("no rows",)),
            "one row": (lines[0] + b"\n" + lines[1] + b"\n", ("only one row",)),
            "time runs back": (replaced(sound, 40, earlier + tail), ("line 41", "time runs back")),
            "time jumps on and back": (replaced(sound, 40, later + tail), ("line 42", "time runs back")),
            "time missing": (replaced(sound, 40, tail), ("line 41", "time is missing")),
            "time not a number": (replaced(sound, 40, b"nan" + tail), ("line 41", "time is missing")),
            "a word in a cell": (
                replaced(sound, 40, b",".join([*row[:-1], b"fault"])),
                ("line 41", "fault", "no number"),
            ),
            "a cell too few": (replaced(sound, 40, row[0]), ("line 41", "1 cell")),
            "a cell too many": (replaced(sound, 40, lines[40] + b",1"), ("line 41", f"{len(row) + 1} cells")),
            "zeros in the middle": (replaced(sound, 40, b"\0" * 30), ("line 41",)),
            "two files in one": (sound + sound.split(b"\n", 1)[1], ("time runs back",)),
        }


class TestEdgeTables(TableContract):
    format = "edge_csv"

    def sound(self) -> bytes:
        wheel = missing_tooth_wheel(36, 1)
        crank = [turning((240.0, 260.0), 0.9, angle) for angle in (wheel.rising_deg, wheel.falling_deg)]
        cam = [turning((120.0, 130.0), 0.9, np.array([angle])) for angle in (100.0, 220.0)]
        times, levels = edge_list([(crank[0], crank[1]), (cam[0], cam[1])])
        return written(times, levels, Writing(), names=["crank", "cam"])


class TestSampledTables(TableContract):
    format = "sampled_csv"

    def sound(self) -> bytes:
        times = np.arange(300) * 1e-3
        volts = np.round(2.5 + 2.0 * np.sin(2.0 * np.pi * 40.0 * times), 2)
        return written(times, volts[:, None], Writing(), names=["crank"], digits=4)
