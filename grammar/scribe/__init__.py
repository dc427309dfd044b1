"""The scribe: what is told of patients, found by wordings that stand as data (language/care*.toml).

`read_care` gives a reading, or None where a message is about something else.
"""

from grammar.scribe.reading import note_of_patient, read_care, tells_of_patient

__all__ = ["note_of_patient", "read_care", "tells_of_patient"]
