"""Tables with one row per change of state, as a logic analyser writes them."""

from witnessmark.recording.formats.edge_csv.read import read
from witnessmark.recording.formats.edge_csv.sniff import sniff

__all__ = ["read", "sniff"]
