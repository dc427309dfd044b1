"""What a typed line can stand for besides its words: the number of a choice that was shown, or a menu command."""

from __future__ import annotations

from bot.message import Button, Outgoing
from bot.message.reply import Handled
from bot.rooms.telegram.menu import LINK, ROLE, command_of, words_of


class Choices:
    """The choices that were shown last, where there are no buttons to press."""

    def __init__(self) -> None:
        self._shown: tuple[Button, ...] = ()

    def shown(self, out: Outgoing) -> None:
        """What was told: its choices take the place of those before."""
        self._shown = out.buttons or self._shown

    def took(self, handled: Handled) -> None:
        """A question without choices is open now: a number that is said answers it."""
        asked = handled.to_ask
        if asked is not None and not asked.choices:
            self._shown = ()

    def pressed(self, words: str) -> str:
        """The button that a number presses, once; "" where the words are no shown number."""
        number = int(words) if words.isdecimal() and len(words) < 3 else 0
        if not 0 < number <= len(self._shown):
            return ""
        button, self._shown = self._shown[number - 1], ()
        return button.id


def slash_words(line: str) -> str:
    """What a menu command, "/again", stands for: the same as in any other room. Other lines stay as they are."""
    command, rest = command_of(line, "") or ("", "")
    if command == ROLE:
        return f"I'm {'' if rest == 'crew' else 'the '}{rest}"
    if command == LINK:
        return f"join code for {rest}" if rest else "join code"
    return words_of(command, rest) if command else line
