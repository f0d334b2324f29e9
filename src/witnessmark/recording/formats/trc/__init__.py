"""Bus logs with the ending .trc: versions 1.0, 1.1, 1.3, 2.0 and 2.1."""

from witnessmark.recording.formats.trc.read import read
from witnessmark.recording.formats.trc.sniff import sniff

__all__ = ["read", "sniff"]
