"""How does the crank stand and move? Angles, strokes, the slider-crank, faults of the count."""
