"""`python -m bot` is `crosslay`."""

from bot.cli import main

main()
