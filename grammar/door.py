"""What the shell asks of single readers, besides reading (`grammar.reader`): the rest of them is closed to it."""

from grammar.readers.answers import asks_of_mayday
from grammar.readers.joining import code_said

__all__ = ["asks_of_mayday", "code_said"]
