"""The window: thin Qt views that draw what :mod:`strokewise.gui.models` says.

``launch`` brings it up, ``workbench`` is the whole of it: verdict above, picture below, and
nothing that ever stops the run. Whatever can be decided without Qt is decided in the models.
"""
