"""Commands worked out against the scene: pumping, water, the incident, medical. Pure: no clock, no input or output.

`handlers.desk.answer` takes the commands of a message; importing this package registers every handler.
"""

from handlers.incident import accountability, air, emergency, mayday, readiness
from handlers.medical import arrest, oxygen
from handlers.pumping import coefficient, inverse, panel, pictures, supply_line
from handlers.water import drafting, fire_flow, fittings, hydrant, rural

__all__ = [
    "accountability",
    "air",
    "arrest",
    "coefficient",
    "drafting",
    "emergency",
    "fire_flow",
    "fittings",
    "hydrant",
    "inverse",
    "mayday",
    "oxygen",
    "panel",
    "pictures",
    "readiness",
    "rural",
    "supply_line",
]
