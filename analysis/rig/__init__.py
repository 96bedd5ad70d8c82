"""Is the rig fit to measure? What a board at rest, a squeeze of the hose and a slow turn tell."""
