"""How far is the crank to be turned, and which way?

A ``target`` is chosen, the ``guide`` says how far and what when it went too far, ``tone`` makes
it heard; ``rocking`` guides through a compression met from both sides, ``first_turns`` asks for
two full turns by hand before the starter.
"""
