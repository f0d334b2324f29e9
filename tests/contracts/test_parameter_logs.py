"""The reader of parameter logs passes the suite of all readers; a scope's tables still go to their own."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.contracts.reader_suite import ReaderContract
from witnessmark.recording import read_recording


def log_of(rows: int) -> bytes:
    """An invented warm idle, values read one after the other, units inside the cells."""
    lines = ["Run time;Engine speed;Coolant;Air flow;Trim;Loop;Lamp"]
    for k in range(rows):
        speed = 800 + 7 * (k % 5)
        flow = f"{3.5 + 0.01 * (k % 9):.2f}".replace(".", ",")
        coolant = f"{60 + k // 4}C" if k % 3 else ""
        lines.append(f"00:{k // 15:02d}:{4 * (k % 15):02d};{speed}RPM;{coolant};{flow}g/s;-0,8%;closed;OFF")
    return "\r\n".join([*lines, ""]).encode()


class TestParameterLogs(ReaderContract):
    format = "parameter_csv"

    def sound(self) -> bytes:
        return log_of(80)

    def damages(self) -> dict[str, tuple[bytes, tuple[str, ...]]]:
        return {
            "empty": (b"", ("empty",)),
            "blank": (b" \n\n  \n", ("empty",)),
            "binary": (bytes(range(256)) * 20, ("not a table of text",)),
            "words": (b"Dear customer,\nthe car is ready.\n", ("no rows of numbers",)),
            "headings only": (log_of(0), ("no rows",)),
        }


class TestPlainParameterLogs(ReaderContract):
    """Plain numbers, slow, in several columns, with a delimiter too many: samples of a scope but for their pace."""

    format = "parameter_csv"

    def sound(self) -> bytes:
        rng = np.random.default_rng(7)
        lines = ["TIME (),RPM (),LOAD (),COOLANT (),MAP ()"]
        for k in range(60):
            values = [0.5 * k, 780 + rng.integers(0, 20), rng.uniform(18, 22), 60 + k // 10, rng.uniform(30, 33)]
            lines.append(", ".join(f"{value:.6f}" for value in values) + ",")
        return "\n".join([*lines, ""]).encode()

    def damages(self) -> dict[str, tuple[bytes, tuple[str, ...]]]:
        return {"headings only": (self.sound().split(b"\n")[0], ("no rows",))}


@pytest.mark.parametrize(("step_s", "format"), [(1e-4, "sampled_csv"), (2e-3, "sampled_csv"), (0.1, "parameter_csv")])
def test_the_pace_of_the_rows_tells_a_scope_from_a_log(step_s: float, format: str, tmp_path: Path) -> None:
    rows = (f"{k * step_s:.4f},{k % 7},{k % 5 / 2},{12 + k % 3 / 10}" for k in range(200))
    path = tmp_path / "bench.csv"
    path.write_text("\n".join(["time [s],a,b,c", *rows]))
    assert read_recording(path).format == format


@pytest.mark.parametrize(
    ("headings", "format"),
    [
        ("Time,RPM,ECT", "parameter_csv"),
        ("Zeit [s],Motordrehzahl,Last", "parameter_csv"),
        ("time [s],a,b", "sampled_csv"),
        ("time [s],crank (V),cam (V)", "sampled_csv"),
    ],
)
def test_a_narrow_table_is_a_log_where_it_names_engine_speed(headings: str, format: str, tmp_path: Path) -> None:
    path = tmp_path / "narrow.csv"
    path.write_text("\n".join([headings, *(f"{k},{800 + k % 7},{20 + k // 5}" for k in range(200))]))
    assert read_recording(path).format == format
