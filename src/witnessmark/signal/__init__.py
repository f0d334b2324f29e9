"""Array mathematics: edges, levels, robust statistics, angles on a circle. Knows neither files nor engines."""

from witnessmark.signal.edges import Edges, TimedNumbers, find_edges
from witnessmark.signal.levels import Levels, find_levels

__all__ = ["Edges", "Levels", "TimedNumbers", "find_edges", "find_levels"]
