"""Measurement files of ASAM MDF version 4: measured channels, frames of a bus, or both."""

from witnessmark.recording.formats.mdf4.read import read
from witnessmark.recording.formats.mdf4.sniff import sniff

__all__ = ["read", "sniff"]
