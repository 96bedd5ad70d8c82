"""How do bytes become samples? The wire format, both ways."""
