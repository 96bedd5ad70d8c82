"""What does the simulated rig make of the engine? Encoder, sensor, board and link."""
