"""What do the window's figures show?

A ``figure`` is numbers, labels and words before anything draws it, so the window, an SVG and the
sheet draw the same: the stroke ``chart``, the ``views`` that explain a verdict, the fit behind
it.
"""
