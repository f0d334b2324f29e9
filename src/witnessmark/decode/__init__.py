"""From edges to crank angle: wheels, cams, and what each channel of a recording is."""
