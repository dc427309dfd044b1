"""How each kind of event changes the scene: one small pure function a body, found by its type in `APPLY`.

A function takes `(scene, body, event)` and gives the scene after it. The rooms of this house: companies.py (the
incident, its units, benchmarks), water.py (pumps and tanks), crews.py (people inside, PAR, Mayday), medical.py (the
arrest), care.py (patients), settings.py.
"""

from __future__ import annotations

from collections.abc import Callable

from handlers.folding import care, companies, crews, medical, settings, water
from handlers.scene import Scene

Fold = Callable[..., Scene]

APPLY: dict[type, Fold] = {
    **companies.APPLY,
    **water.APPLY,
    **crews.APPLY,
    **medical.APPLY,
    **care.APPLY,
    **settings.APPLY,
}
