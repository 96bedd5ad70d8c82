"""What is said to a person of each remark: one sentence for a code of ``analysis`` or ``daq``.

``say`` takes a :class:`~strokewise.analysis.remark.Remark`, such as a verdict's reason, and
``told`` takes notices. The sentences stand by subject: ``engine`` (what is known of it), ``rig``
(the board before the crank is turned), ``trace`` (sensor, encoder and link), ``tdc``, ``by_hand``
(rocking and the stop), ``verdict`` (which stroke), ``ignition`` and the other ``steps`` after TDC.

Examples
--------
>>> from strokewise.analysis.remark import remark
>>> from strokewise.gui.sayings import say
>>> say(remark("second-agrees", cylinder=3))
'cylinder 3 was sensed too and agrees with the firing order'
"""

from __future__ import annotations

from strokewise.gui.sayings.saying import capital
from strokewise.gui.sayings.spoken import Told, as_said, say, say_any, told

__all__ = ["Told", "as_said", "capital", "say", "say_any", "told"]
