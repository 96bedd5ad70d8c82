"""How are the steps after TDC laid out?

A form of the question's fields (``step_form``), the answer in large type (``step_sheet``), and
its cautions always in sight beside it (``caution_box``).
"""
