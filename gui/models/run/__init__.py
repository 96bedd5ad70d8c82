"""What is followed, live or in a replay, and what has been found by now?"""
