"""The learned reader put to use beside the rules, as the settings have it; without it the rules decide alone."""

from __future__ import annotations

import asyncio

from bot.settings import Settings
from grammar.judge import active


def load(settings: Settings) -> bool:
    """Loads it now, before the first message; False where it is turned off or can't be had."""
    if not settings.learned_reader:
        active.use(None)
        return False
    return active.active() is not None or active.load()


async def load_beside(settings: Settings) -> None:
    """Loads it while messages are served; until it is there the rules decide alone."""
    await asyncio.to_thread(load, settings)
