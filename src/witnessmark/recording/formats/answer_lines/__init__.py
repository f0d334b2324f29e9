"""Answers of the standard's current data as they came, a line each: ``269.5:422f26``."""

from witnessmark.recording.formats.answer_lines.read import read
from witnessmark.recording.formats.answer_lines.sniff import sniff

__all__ = ["read", "sniff"]
