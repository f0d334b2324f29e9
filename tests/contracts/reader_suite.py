"""The suite that every reader of recordings passes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from witnessmark.errors import InputError
from witnessmark.recording import Recording, read_recording, sniff_formats
from witnessmark.recording.reader import HEAD_BYTES
from witnessmark.source import digest_bytes

__all__ = ["ReaderContract"]


# The suite is run once for every reader that inherits it, which is what this check warns of.
INHERITED = settings(suppress_health_check=[HealthCheck.differing_executors])


class ReaderContract:
    """What every reader promises, whatever its format.

    A subclass names the format, gives the bytes of a sound file, and a list of damages: what was done to it, the
    damaged bytes, and words that the message must hold.
    """

    format: str

    def sound(self) -> bytes:
        """A sound file of this format."""
        raise NotImplementedError

    def damages(self) -> dict[str, tuple[bytes, tuple[str, ...]]]:
        """Damaged files that must be refused, each with words of the refusal."""
        raise NotImplementedError

    def read(self, folder: Path, data: bytes, *, format: str | None = None) -> Recording:
        """A recording from bytes."""
        path = folder / "bench.csv"
        path.write_bytes(data)
        return read_recording(path, format=format)

    def test_the_format_is_found_from_the_content(self, tmp_path: Path) -> None:
        assert self.read(tmp_path, self.sound()).format == self.format

    def test_sniffing_is_cheap_and_opens_nothing(self) -> None:
        found = sniff_formats(self.sound()[:HEAD_BYTES], Path("no such file"))
        assert 0.5 < found[self.format].confidence <= 1.0
        assert all(sniff.reason and "\n" not in sniff.reason for sniff in found.values())

    def test_an_explicit_format_gives_the_same(self, tmp_path: Path) -> None:
        assert self.read(tmp_path, self.sound()) == self.read(tmp_path, self.sound(), format=self.format)

    def test_reading_twice_gives_the_same(self, tmp_path: Path) -> None:
        first, second = self.read(tmp_path, self.sound()), self.read(tmp_path, self.sound())
        assert first == second
        assert first.digest == digest_bytes(self.sound())

    def test_arrays_cannot_be_changed(self, tmp_path: Path) -> None:
        for trace in self.read(tmp_path, self.sound()):
            for array in (trace.raw, trace.values, trace.times_s):
                with pytest.raises(ValueError, match="read-only"):
                    array[0] = 0

    def test_every_trace_has_a_time_for_every_value(self, tmp_path: Path) -> None:
        recording = self.read(tmp_path, self.sound())
        assert len(recording) > 0
        for trace in recording:
            assert trace.times_s.shape == trace.values.shape == (len(trace),)
            assert np.isfinite(trace.values).all()
            assert (np.diff(trace.times_s) > 0).all()

    def test_a_line_is_enough_to_show_it(self, tmp_path: Path) -> None:
        recording = self.read(tmp_path, self.sound())
        for shown in (recording, *recording, *(trace.time for trace in recording)):
            assert len(repr(shown)) <= 120
            assert "\n" not in repr(shown)

    def test_damage_is_named_in_one_line(self, tmp_path: Path) -> None:
        for name, (data, words) in self.damages().items():
            with pytest.raises(InputError) as caught:
                self.read(tmp_path, data)
            line = str(caught.value)
            assert "\n" not in line, name
            assert line.startswith("bench.csv"), (name, line)
            assert all(word in line for word in words), (name, line)

    @INHERITED
    @given(st.binary(max_size=400))
    def test_random_bytes_never_end_in_anything_but_a_refusal(
        self, tmp_path_factory: pytest.TempPathFactory, data: bytes
    ) -> None:
        self.refused_or_read(tmp_path_factory, data)

    @INHERITED
    @given(st.data())
    def test_bytes_overwritten_anywhere_are_read_or_refused(
        self, tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
    ) -> None:
        sound = self.sound()
        at = data.draw(st.integers(0, len(sound) - 1))
        patch = data.draw(st.binary(min_size=1, max_size=40))
        self.refused_or_read(tmp_path_factory, sound[:at] + patch + sound[at + len(patch) :])

    @INHERITED
    @given(st.data())
    def test_a_file_cut_anywhere_is_read_or_refused(
        self, tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
    ) -> None:
        sound = self.sound()
        self.refused_or_read(tmp_path_factory, sound[: data.draw(st.integers(0, len(sound)))])

    def refused_or_read(self, tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
        """Any bytes give a recording or one clear line, and the same format every time."""
        folder = tmp_path_factory.mktemp("bytes")
        for format in (None, self.format):
            line = ""
            try:
                self.read(folder, data, format=format)
            except InputError as error:
                line = str(error)
            assert "\n" not in line
