"""How is a recording kept and read? The container of frames and notes."""
