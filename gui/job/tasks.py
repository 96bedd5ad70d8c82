"""What is still to do on a rebuilt engine before it is handed over, and why?

The list is copied into every new job, so that a later version of the software changes no job that
is under way. The engine maker's manual comes before it.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Task:
    """One thing to do.

    Attributes
    ----------
    code : str
        Its short name, to tick it by.
    after : str
        Code of the task that must be done before; empty when there is none.
    """

    code: str
    text: str
    why: str
    after: str = ""


TASKS: tuple[Task, ...] = (
    Task(
        "oil-rockers",
        "Oil rockers, cams and followers before the first turn",
        "They run dry until the pump has filled the galleries, and dry faces scuff at once.",
    ),
    Task(
        "two-turns-by-hand",
        "Turn two full turns by hand before the starter is used",
        "A piston that meets a valve is felt at the spanner; the starter bends the valve.",
        after="oil-rockers",
    ),
    Task(
        "drive-gear-seated",
        "See that the drive gear is seated fully and has engaged the oil pump",
        "A gear standing on the pump's tang leaves the engine without oil, and the timing wanders.",
    ),
    Task(
        "torque-and-sealant",
        "Torques, their order, and sealants as the engine maker states them",
        "Nothing here knows them; a guess strips a thread or lets oil and coolant out.",
    ),
    Task(
        "rig-off",
        "Sensor, encoder, piston stop and spanner off; plugs, leads and guards back on",
        "What is left in a plug hole or on the crank is thrown or breaks at the first start.",
    ),
    Task(
        "clearances-again",
        "Check the valve clearances again after the first running",
        "Gaskets settle and faces bed in during the first heat, and the gaps move with them.",
        after="two-turns-by-hand",
    ),
    Task(
        "seal-cover",
        "Only then seal the valve cover for good",
        "A cover that is sealed before has to come off again, or the check is left out.",
        after="clearances-again",
    ),
)
