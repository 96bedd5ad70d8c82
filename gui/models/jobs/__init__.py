"""What does the window know of a job? What is in it, and what goes into it, without Qt.

``job_book`` holds the open job, ``job_lines`` says what is in it, ``keep_shown`` keeps an answer.
"""
