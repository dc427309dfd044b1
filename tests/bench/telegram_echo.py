"""The yardstick of the Telegram bench: a bare python-telegram-bot bot that answers every text with itself."""

import os

from telegram import Update
from telegram.ext import Application, ApplicationBuilder, ContextTypes, MessageHandler, filters


async def _echo(update: Update, context: ContextTypes.DEFAULT_TYPE) -> None:
    message = update.effective_message
    if message and message.text:
        await message.reply_text(message.text)


def main() -> None:
    """Polls the server of the environment until it is ended."""
    api = os.environ["CROSSLAY_TELEGRAM_API"]
    built = ApplicationBuilder().token(os.environ["CROSSLAY_TELEGRAM_TOKEN"]).base_url(f"{api}/bot")
    application: Application[..., ...] = built.build()
    application.add_handler(MessageHandler(filters.TEXT, _echo))
    application.run_polling()


if __name__ == "__main__":
    main()
