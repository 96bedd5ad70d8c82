"""How do strokes, figures and the drive gear look on paper? Drawings as SVG, without Qt.

Each is made from plain values, so that sheet, window and command line draw the same: the strokes of
every cylinder, a figure with its curves, the distributor's cap with the gear going in.
"""
