"""What belongs to one engine? The job's folder: recordings, answers, gaps, ticks.

Numbered files, never changed once written (``store``), read back into one frozen ``job``; ``ask``
keeps each answer with all that is needed to compute it again.
"""
