"""How well does each cylinder squeeze, and how fast does the sensor follow?

A peak depends on speed and air, so it is brought to starter speed and the standard atmosphere
before cylinders are compared (``cylinder_compression``, ``compare``); ``response`` bounds the
response time of sensor and hose from pressure let go by hand. Pressures are absolute bar.
"""
