"""Faults that a test asks for: refusals, delays, held requests, dropped connections, answers lost after the act."""

import asyncio
from dataclasses import dataclass, field

from tests.telegram.schema import ApiError

FILE_DOWNLOAD = "file"  # stands for a file's download where a method's name is expected


@dataclass(eq=False)
class Fault:
    """One fault for the next `times` calls of a method (of a chat, when one is named).

    status: refuse with it, before anything is done (5xx, 401, 403, …), with `description`.
    retry_after: refuse with 429 and this many seconds.
    hold: wait, before anything is done, until `release()`.
    delay_s: wait that long, before anything is done.
    drop: close the connection before anything is done.
    lose_answer: do what was asked, then close the connection (a download: after half of the bytes).
    garbled: do what was asked, then answer with this instead (no JSON, or JSON of another shape).
    """

    method: str
    chat_id: int | None = None
    times: int = 1
    status: int = 0
    description: str = "made to fail by the test"
    retry_after: int = 0
    delay_s: float = 0
    hold: bool = False
    drop: bool = False
    lose_answer: bool = False
    garbled: str = ""
    hits: int = 0
    _released: asyncio.Event = field(default_factory=asyncio.Event)

    def fits(self, method: str, chat_id: object) -> bool:
        """Whether this call is one of those to be faulted."""
        return self.hits < self.times and self.method == method and self.chat_id in (None, chat_id)

    @property
    def refuses(self) -> bool:
        """Whether a faulted call fails before anything is done."""
        return bool(self.drop or self.status or self.retry_after)

    async def before(self) -> None:
        """Waits or refuses as asked; DroppedConnectionError to close the connection."""
        if self.delay_s:
            await asyncio.sleep(self.delay_s)
        if self.hold:
            await self._released.wait()
        if self.drop:
            raise DroppedConnectionError
        if self.retry_after:
            raise ApiError(429, f"Too Many Requests: retry after {self.retry_after}", retry_after=self.retry_after)
        if self.status:
            raise ApiError(self.status, self.description)

    def release(self) -> None:
        """Lets the held requests go on."""
        self._released.set()


class DroppedConnectionError(Exception):
    """The connection is to be closed without an answer."""
