"""Which engines and faults can be had by name?

Every scenario is a bench with some parameters preset, and every parameter of one can be set in
the others, so that faults combine (``scenarios``). All engines are invented, of no maker.

Examples
--------
>>> from strokewise.daq.bench.scenarios.scenarios import scenario
>>> scenario("worn-rings").group
'engine fault'
"""
