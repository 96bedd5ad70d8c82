"""How are strokes and turning drawn?

The page a mechanic works by (``chart_page``): the stroke chart with pressure and marks, and the
turn guide beside it, or the rocking guide in its place.
"""
