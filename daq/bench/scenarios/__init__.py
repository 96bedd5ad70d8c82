"""Which engines and faults can be had by name?"""
