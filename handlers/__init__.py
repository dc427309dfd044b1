"""Commands worked out against the scene: pumping, water, the incident, medical. Pure: no clock, no input or output.

`handlers.desk.answer` takes the commands of a message, `handlers.reminders.due` says what is to be told when; importing
this package registers every handler.
"""

from handlers import talk
from handlers.incident import (
    accountability,
    air,
    amend,
    asked,
    benchmarks,
    crews,
    dispatch,
    emergency,
    mayday,
    readiness,
    reminder_change,
    requests,
    restore,
    roles,
)
from handlers.medical import answers, arrest, drugs, hand_over, history, oxygen, procedures, triage, vitals
from handlers.pumping import coefficient, inverse, line_change, lines, panel, pictures, pump_status, supply_line
from handlers.water import drafting, fire_flow, fittings, hydrant, rural, supply, tank

__all__ = [
    "accountability",
    "air",
    "amend",
    "answers",
    "arrest",
    "asked",
    "benchmarks",
    "coefficient",
    "crews",
    "dispatch",
    "drafting",
    "drugs",
    "emergency",
    "fire_flow",
    "fittings",
    "hand_over",
    "history",
    "hydrant",
    "inverse",
    "line_change",
    "lines",
    "mayday",
    "oxygen",
    "panel",
    "pictures",
    "procedures",
    "pump_status",
    "readiness",
    "reminder_change",
    "requests",
    "restore",
    "roles",
    "rural",
    "supply",
    "supply_line",
    "talk",
    "tank",
    "triage",
    "vitals",
]
