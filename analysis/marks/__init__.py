"""Where do the timing marks stand, and why are they off?

Edges and presses of one mark come to one angle (``mark_edges``) and are measured from true TDC
(``marks``); named causes are weighed against each other by Bayes' rule (``mark_causes``,
``mark_evidence``), and where two explain the figures the one look that would tell is named
(``next_look``). Half a turn of the cam shows in no pressure: ``half_turn``.
"""
