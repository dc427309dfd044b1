"""`python -m bot` is `crosslay`."""

from bot.cli import main

if __name__ == "__main__":  # the ear's process reads this file too
    main()
