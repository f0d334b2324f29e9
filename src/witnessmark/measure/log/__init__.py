"""Findings from logged parameters: operating states, averages with honest spreads, events."""
