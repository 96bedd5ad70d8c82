"""What does a class go through, question by question, and what did each group say?

``lesson`` is the file that a trainer prepares, ``bank`` the questions that come with it, ``posing``
makes of one of them an engine and a moment, ``session`` keeps what was answered and goes on after
an interruption.
"""
