"""What belongs to one engine? The job's folder: recordings, answers, gaps, ticks."""
