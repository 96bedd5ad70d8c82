"""What is handed over at the end? The job sheet as a page, HTML and PDF."""
