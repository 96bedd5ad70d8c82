"""Bytes to samples: wire format, decoder, recordings, sources, the engine profile, the bench engine."""
