"""What is handed over at the end? The job sheet as a page, HTML and PDF.

Everything in plain words and tables first (``sheet``, ``findings``, ``engine``, ``unchecked``),
then HTML (``html``) and a PDF (``pdf``), with the screen's own figures drawn again
(``pictures``).
"""
