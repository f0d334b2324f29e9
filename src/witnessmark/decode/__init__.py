"""From edges to crank angle, from frames and payloads to values: wheels, cams, channels, and what a vehicle said."""
