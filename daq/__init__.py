"""Bytes to samples: wire format, decoder, recordings, sources, engine profile, bench engine."""
