"""Answers to people: the commands, the window, the job sheet."""
