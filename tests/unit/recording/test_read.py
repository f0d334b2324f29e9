"""Which reader takes a file, and what is said when none does."""

from __future__ import annotations

import sys
from pathlib import Path
from types import ModuleType

import pytest

from witnessmark.errors import FormatError, InputError
from witnessmark.recording import Sniff, read_recording, sniff_formats
from witnessmark.recording.formats import FORMATS

EDGES = "time [s],crank\n" + "\n".join(f"{0.1 * i + 0.02 * (i % 2):.3f},{i % 2}" for i in range(20))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "bench.csv"
    path.write_text(EDGES)
    return path


def test_no_such_file_and_a_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        read_recording(tmp_path / "nothing.csv")
    with pytest.raises(InputError, match="is a folder"):
        read_recording(tmp_path)


def test_an_unknown_format_names_the_nearest(path: Path) -> None:
    with pytest.raises(InputError, match="Nearest: edge_csv"):
        read_recording(path, format="edges_csv")


def test_a_broken_reader_is_reported_and_skipped(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(FORMATS, "broken", "witnessmark_no_such_reader")
    recording = read_recording(path)
    assert recording.format == "edge_csv"
    assert any("broken" in note and "does not work here" in note for note in recording.notes)
    with pytest.raises(ModuleNotFoundError):
        read_recording(path, format="broken")


def test_a_reader_that_fails_while_sniffing_is_skipped(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    module = ModuleType("failing_reader")

    def sniff(head: bytes, path: Path) -> Sniff:
        raise ZeroDivisionError("a fault of its own")

    module.sniff = sniff  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "failing_reader", module)
    monkeypatch.setitem(FORMATS, "failing", "failing_reader")
    assert read_recording(path).format == "edge_csv"
    assert "ZeroDivisionError" in sniff_formats(EDGES.encode(), path)["failing"].reason


def test_every_reason_is_given_when_no_reader_fits(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(FORMATS, "broken", "witnessmark_no_such_reader")
    path = tmp_path / "letter.txt"
    path.write_text("Dear customer,\nthe car is ready.\n")
    with pytest.raises(FormatError) as caught:
        read_recording(path)
    line = str(caught.value)
    assert "\n" not in line
    assert all(name in line for name in FORMATS)


def test_a_table_of_samples_read_as_changes_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "bench.csv"
    path.write_text("\n".join(f"{i * 1e-3:.3f},{i % 7}" for i in range(50)))
    assert read_recording(path).format == "sampled_csv"
    with pytest.raises(FormatError, match="more than two values"):
        read_recording(path, format="edge_csv")
