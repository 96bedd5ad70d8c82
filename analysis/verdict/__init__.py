"""What is the answer, from all of it together? Which TDC, which stroke, how sure."""
