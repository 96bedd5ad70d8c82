"""The window: thin Qt views that draw what :mod:`strokewise.gui.models` says."""
