"""Samples to answers: pure numpy and scipy, no window, no serial port, no files."""
