"""What the window and the terminal show, as plain values: no Qt in here, so all can be asserted."""
