"""Bus logs with the ending .blf, packed objects in containers."""

from witnessmark.recording.formats.blf.read import read
from witnessmark.recording.formats.blf.sniff import sniff

__all__ = ["read", "sniff"]
