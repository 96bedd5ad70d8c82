"""What is asked of a class, and what did it answer?

``classroom`` chooses scenarios and faults and keeps the answers; ``worksheet`` is the sheet of
traces to write on, ``sheet_tasks`` what is asked of it, its answers apart.
"""
