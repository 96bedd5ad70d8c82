"""What do the steps after TDC say at this moment?

``found_now`` makes what a step asks about of any snapshot, ``asking`` asks aside, ``step_book``
knows which step is open and whether its answer still holds, ``step_fields`` is its form.
"""
