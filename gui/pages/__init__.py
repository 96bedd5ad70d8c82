"""How is an answer said? Its words, cautions, drawings and JSON.

A page is a plain value, made of an answer once (``page``), its headline held to one rule
(``headline``), its ``sign`` in word and shape. ``text`` prints it in 80 columns, ``html`` shows
it in a notebook, the window and the sheet set it in type; none reads what another wrote. A module
for each step holds its ``STEP``: question, answer, page and JSON. ANSWERS.md in this folder tells
what each line means.
"""
