"""Bus logs as lines of text, a frame a line: ``(1735329625.329586) can0 17C#0000058C0000000B``."""

from witnessmark.recording.formats.candump.read import read
from witnessmark.recording.formats.candump.sniff import sniff

__all__ = ["read", "sniff"]
