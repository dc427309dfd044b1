"""The hand trial is driven by lines and prints what the bot writes."""

import asyncio
import sys
from pathlib import Path

from telegram import Bot


async def test_a_hand_trial_with_a_real_client() -> None:
    trial = await asyncio.create_subprocess_exec(
        sys.executable, "-m", "tests.telegram.server", "--port", "0", stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE, cwd=Path(__file__).parents[2],
    )  # fmt: skip
    assert trial.stdin
    assert trial.stdout
    async with asyncio.timeout(30):
        settings = dict([(await trial.stdout.readline()).decode().split()[1].split("=", 1) for _ in range(4)])
        trial.stdin.write(b"Dana@crew: two lines\nnobody: x\n")
        await trial.stdin.drain()
        async with Bot(settings["CROSSLAY_TELEGRAM_TOKEN"], base_url=settings["CROSSLAY_TELEGRAM_API"] + "/bot") as bot:
            (update,) = await bot.get_updates(timeout=20)
            assert update.message is not None
            assert str(update.message.chat.id) == settings["CROSSLAY_CREW_ROOM"]
            await update.message.reply_text("175 psi", disable_notification=True)
        printed, _ = await trial.communicate(b"quit\n")
    assert "Engine 12 (silent): 175 psi" in printed.decode()
    assert "people: Dana, Lee" in printed.decode()
    assert trial.returncode == 0
