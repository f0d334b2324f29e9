"""Logs of parameters: one row a moment, one column a parameter, whatever way they are written."""

from witnessmark.recording.formats.parameter_csv.read import read
from witnessmark.recording.formats.parameter_csv.sniff import sniff

__all__ = ["read", "sniff"]
