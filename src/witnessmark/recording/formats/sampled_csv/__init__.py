"""Tables with one row per sample."""

from witnessmark.recording.formats.sampled_csv.read import read
from witnessmark.recording.formats.sampled_csv.sniff import sniff

__all__ = ["read", "sniff"]
