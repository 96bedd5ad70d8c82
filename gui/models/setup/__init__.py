"""What is known of engine and rig, and does the rig work?

A profile while it is edited, key by key (``draft``), the check of sensor and encoder
(``checks``), and what the window remembers from one day to the next (``settings``).
"""
