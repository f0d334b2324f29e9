"""Recordings: measured samples over time, from any file."""

from witnessmark.recording.frames import Frames
from witnessmark.recording.read import read_recording, sniff_formats
from witnessmark.recording.reader import Reader, Sniff, TimeHints
from witnessmark.recording.types import ExplicitTime, Gap, Recording, RegularTime, TimeBase, Trace

__all__ = [
    "ExplicitTime",
    "Frames",
    "Gap",
    "Reader",
    "Recording",
    "RegularTime",
    "Sniff",
    "TimeBase",
    "TimeHints",
    "Trace",
    "read_recording",
    "sniff_formats",
]
