"""Where do the timing marks stand, and why are they off?

Edges and presses of one mark come to one angle (``mark_edges``) and are measured from true TDC
(``marks``). Named causes of every part are weighed together by Bayes' rule (``mark_causes``): those
of pulley and flywheel (``mark_evidence``), of the cam with its marks and what it drives
(``cam_evidence``), and what the rig may have done to all marks alike (``rig_states``). Where two
explain the figures the one look that would tell is named (``next_look``). Half a turn of the cam
shows in no pressure: ``half_turn``.
"""
