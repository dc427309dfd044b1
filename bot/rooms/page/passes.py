"""The signed pass in a phone's cookie: who it is, in which of the page's rooms. None can be written without the key."""

from __future__ import annotations

import base64
import hmac
import secrets
from datetime import datetime
from pathlib import Path

import msgspec

from bot.errors import FileProblem
from bot.store import private

COOKIE = "__Host-crosslay"
"""The prefix makes browsers take it from this host alone, over HTTPS, for every path."""
KEY_BYTES = 32
LONGEST = 1_000
"""Characters of a pass; a longer cookie isn't looked at."""


class Pass(msgspec.Struct, frozen=True):
    """What a phone was let in as."""

    person: str
    """Key of the person."""
    room: str
    """The page's room that it is in."""
    name: str
    unit: str
    since: datetime
    guest_of: str | None = None
    """The incident that its company joined by a code; None: it is of the house."""


class Passes:
    """Writes passes and reads them again."""

    def __init__(self, key: bytes) -> None:
        self._key = key

    @classmethod
    def of_file(cls, path: Path) -> Passes:
        """With the key of a file of ours, which is made where there is none. Raises FileProblem."""
        try:
            private.folder(path.parent)
            if path.exists():
                key = path.read_bytes()
                if len(key) == KEY_BYTES:
                    return cls(key)
            key = secrets.token_bytes(KEY_BYTES)
            path.write_bytes(key)
            private.close(path)
        except OSError as error:
            raise FileProblem(path, f"the key of the page's passes can't be kept ({error.strerror}).") from None
        return cls(key)

    def write(self, one: Pass) -> str:
        """A cookie's value."""
        body = _text(msgspec.json.encode(one))
        return f"{body}.{self._sign(body)}"

    def read(self, value: str) -> Pass | None:
        """The pass of a cookie's value; None where it isn't ours as it stands."""
        body, _, signed = value[:LONGEST].partition(".")
        if not hmac.compare_digest(signed.encode("utf-8", "replace"), self._sign(body).encode()):
            return None
        try:
            return msgspec.json.decode(base64.urlsafe_b64decode(body + "=" * (-len(body) % 4)), type=Pass)
        except (ValueError, msgspec.DecodeError):
            return None

    def _sign(self, body: str) -> str:
        return _text(hmac.digest(self._key, body.encode("utf-8", "replace"), "sha256"))


def _text(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).decode().rstrip("=")
