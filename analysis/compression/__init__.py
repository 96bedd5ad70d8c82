"""How well does each cylinder squeeze, and how fast does the sensor follow?"""
