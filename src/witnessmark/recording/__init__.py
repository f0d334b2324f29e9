"""Recordings: measured samples over time, from any file."""

from witnessmark.recording.types import ExplicitTime, Gap, Recording, RegularTime, TimeBase, Trace

__all__ = ["ExplicitTime", "Gap", "Recording", "RegularTime", "TimeBase", "Trace"]
