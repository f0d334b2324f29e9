"""Bus logs with the ending .asc."""

from witnessmark.recording.formats.asc.read import read
from witnessmark.recording.formats.asc.sniff import sniff

__all__ = ["read", "sniff"]
