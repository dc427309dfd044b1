"""Cuts typed items into groups: each one run of hose or one line, and how it hangs on the one before."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from grammar.costs import DOUBTFUL, FAIR, LIKELY, UNLIKELY, UNSURE
from grammar.readers.slot_rules import Slot

_OPENS = frozenset(("len", "hose", "count", "name", "family", "device", "unknown_name"))
"""What may begin another run or line."""
_GUNS = ("monitor", "aerial", "deck_gun")


class Group:
    """Slots that belong to one run of hose or one line."""

    def __init__(self, link: str | None = None, values: Mapping[str, object] | None = None) -> None:
        self.values: dict[str, object] = dict(values or {})
        self.link = link
        """How it hangs on the group before: "and", "into", "onend", "split", "feeds"."""
        self.noun: str | None = None
        self.many: tuple[str, ...] = ()
        """The lines of a name that several have."""
        self.plural = False
        self.short = False
        """The length was said the short way ("two fifty")."""
        self.count_at = self.line_at = -1
        """Where the count and the word "lines" stand."""

    @property
    def counts_lines(self) -> bool:
        """ "two lines …": how many there are in all, or of the first kind."""
        return self.count_at >= 0 and self.line_at == self.count_at + 1

    def has(self, *kinds: str) -> bool:
        """Any of these slots is filled."""
        return any(kind in self.values for kind in kinds)

    def without(self, *kinds: str) -> dict[str, object]:
        """What was said of it but for these."""
        return {kind: value for kind, value in self.values.items() if kind not in kinds}

    @property
    def whole(self) -> bool:
        """Could be a line by itself."""
        return self.has("name", "family", "device") or (self.has("hose") and self.has("len"))

    def num(self, kind: str) -> float | None:
        """The number in a slot."""
        value = self.values.get(kind)
        return float(value) if isinstance(value, int | float) else None

    @property
    def count(self) -> int:
        """How many of it there are."""
        return int(self.num("count") or 1)

    def noted(self, slot: Slot) -> None:
        """A line is called so, or a slot of it is filled."""
        if slot.kind == "line":
            self.noun = self.noun or "line"
            self.line_at = slot.at if self.line_at < 0 else self.line_at
            self.plural = self.plural or slot.form.endswith("s")
            return
        self.values[slot.kind] = slot.value
        if slot.kind == "len":
            self.short = slot.form == "hundreds"
        if slot.kind == "count":
            self.count_at = slot.at


class Builder:
    """Walks the slots once and cuts them into groups."""

    def __init__(self) -> None:
        self.groups: list[Group] = [Group()]
        self.cost = 0.0
        self.used = 0
        self.split: str | None = None
        self.split_at = -1
        self.feed_at: int | None = None
        self.siamese: list[Group] = []
        self.said: set[str] = set()
        """What was said of the whole: each, total, off_it, upstairs, climb, unknown_name, at, twice …"""
        self.pump_psi: float | None = None
        self.intake_psi: float | None = None
        self._joined = self._paused = self._repair = False
        self._link: str | None = None
        self._linked_at = -1
        self._ahead: Sequence[Slot] = ()

    def read(self, slots: Sequence[Slot]) -> Builder:
        """All slots, in their order."""
        for n, slot in enumerate(slots):
            self._ahead = slots[n + 1 :]
            if slot.kind not in ("into", "onend"):
                self.used |= 1 << slot.at
            act = _ACTS.get(slot.kind)
            if act is not None:
                act(self, slot)
            elif slot.kind in _OF_ALL:
                self.said.add(slot.kind)
            else:
                self._put(slot)
        self._finish()
        return self

    @property
    def group(self) -> Group:
        """The one that is told of now."""
        return self.groups[-1]

    def _new(self, link: str | None) -> None:
        if self.group.values:
            self.groups.append(Group(link))
        elif link:
            self.group.link = link
        self._joined = self._paused = False
        self._link = None

    def _links(self, link: str | None, at: int = -1) -> None:
        self._link, self._linked_at = link, at if at >= 0 else self._linked_at

    def _finish(self) -> None:
        """Lines "off" a feed hang on a wye: what was told first or last feeds them."""
        if self.split is not None or len(self.groups) < 2:
            return
        one, feed = self.groups[0], self.groups[1]
        if self._link == "onend" and one.has("hose", "len"):
            self.split, self.split_at = "wye", 1
            self.used |= 1 << self._linked_at
        if len(self.groups) == 2 and feed.link == "onend" and one.count > 1:
            if feed.has("count"):
                self.said.add("two_feeds")
            else:
                self.split, self.split_at = "wye", 0  # "two 1¾ lines off 200 feet of 3 inch"

    # words between
    def sep(self, slot: Slot) -> None:
        self._paused = True
        self._joined = self._joined or slot.value in (";", ".")

    def join(self, slot: Slot) -> None:
        self._joined = True

    def into(self, slot: Slot) -> None:
        self._links("into", slot.at)
        self._joined = self._joined or slot.value in ("then", "and then")

    def onend(self, slot: Slot) -> None:
        if slot.value == "off" and self.split is None and not any(group.values for group in self.groups):
            self.splits(slot._replace(kind="split", value="wye", form="off"))  # "off 200 feet of 3 inch, two …"
            self.used |= 1 << slot.at
            return
        fresh = self.split is not None and not self.group.values and self.feed_at is None
        self._links("feed_next" if fresh else "onend", slot.at)

    def other(self, slot: Slot) -> None:
        if self.group.has("len", "hose", "name", "floor"):
            self._new("and")

    def nth(self, slot: Slot) -> None:
        if self.group.has("len", "hose", "name"):
            self._new("and")
        self.group.noun = "line"

    def leg(self, slot: Slot) -> None:
        apart = self._joined or self._paused
        if apart and self.group.has("len", "hose") and not self.group.has("count") and self.group.noun is None:
            self._new("and")
        self.group.noun = "leg"

    def line(self, slot: Slot) -> None:
        self.group.noted(slot)

    def repair(self, slot: Slot) -> None:
        self._repair = True
        self._joined = self._paused = False

    def nothing(self, slot: Slot) -> None:
        """A word that only labels."""

    def feed(self, slot: Slot) -> None:
        group, apart = self.group, self._paused or self._joined
        leader = group.has("hose") and not group.has("len") and not apart  # "three inch leader, 300 feet"
        behind = not group.values and len(self.groups) > 1
        if not self._paused and (behind or (group.whole and not group.has("device"))):
            self.feed_at = len(self.groups) - 1
        elif group.has("device"):
            self._link = self._link or "feeds"
        elif leader:
            self.feed_at = len(self.groups) - 1
        else:
            self._new("and")
            self.feed_at = len(self.groups) - 1

    def siameses(self, slot: Slot) -> None:
        self.siamese.append(self.group)
        self._link = "into"

    def inlet(self, slot: Slot) -> None:
        self.group.values["inlet"] = True
        self._link = None

    def splits(self, slot: Slot) -> None:
        if self.split is not None:
            return
        self.split = str(slot.value)
        if self._link == "onend":  # "two lines off a wye": legs so far
            for group in self.groups:
                group.noun = "leg"
        had = any(group.has("len", "hose", "name") for group in self.groups)
        self._new("split")
        self.split_at = len(self.groups) - 1 if had else 0
        self._link = "feed_next" if "off" in slot.form.split() else None
        self._joined = False

    # values
    def foam(self, slot: Slot) -> None:
        self.group.values.setdefault("device", "eductor")

    def percent(self, slot: Slot) -> None:
        self.group.values["foam"] = slot.value

    def intake(self, slot: Slot) -> None:
        self.intake_psi = _float(slot.value)

    def pumped(self, slot: Slot) -> None:
        self.cost += UNLIKELY if self.pump_psi is not None else 0.0
        self.pump_psi = _float(slot.value)

    def unknown_name(self, slot: Slot) -> None:
        self.said.add(slot.kind)
        self._put(slot)

    def high_place(self, slot: Slot) -> None:
        self.said.add("upstairs")
        self._put(slot._replace(kind="place"))

    def family(self, slot: Slot) -> None:
        count = self.group.num("count")
        self._put(slot)
        self.group.many = slot.value if isinstance(slot.value, tuple) else ()
        if count is not None and count == len(self.group.many):
            self.group.values["every"] = True
            self.group.values.pop("count", None)

    def device(self, slot: Slot) -> None:
        group = self.group
        if slot.value in _GUNS and group.has("len", "hose", "count") and not group.has("device"):
            self._link = None
            group.values["device"] = slot.value
        elif slot.value == "eductor" and self._link == "into" and group.has("len", "hose"):
            group.values |= {"device": "eductor", "before_eductor": True}  # "100 feet of 2½ to an eductor, then …"
            self.used |= 1 << self._linked_at
        else:
            self._link = None if self._link == "onend" else self._link
            self._put(slot)

    def _put(self, slot: Slot) -> None:
        kind = slot.kind
        if slot.form == "at":
            self.said.add("at")
        if kind == "floor":
            self.said = self.said - {"floor_apart"} | ({"floor_apart"} if self._paused else set())
        if not self._said_along(slot):
            self._begin(slot)
            self._joined = self._paused = False
            self._link = None
            self.group.noted(slot)

    def _said_along(self, slot: Slot) -> bool:
        """It mends what was said, says it again, or is the feed's."""
        group, kind = self.group, slot.kind
        if self._repair and kind in group.values:
            group.values[kind] = slot.value
            self._repair = False
            return True
        if kind == "len" and self._lacks_length():
            self.groups[-2].values["len"] = slot.value
            return True
        again = kind == "count" and slot.form.startswith("both") and group.num("count") == slot.value
        return again and not group.has("len", "hose")  # "two lines, both inch and three quarter"

    def _begin(self, slot: Slot) -> None:
        """Begins another group where this slot is none of the one that is told of."""
        kind, opens = slot.kind, slot.kind in _OPENS
        if kind == "count" and self._counts_more():
            self._new("and")
        if self._link is not None and self._linked_at >= 0 and (opens or kind in ("floor", "place")):
            self.used |= 1 << self._linked_at
        if opens and self.group.has("inlet") and self.group.has("len") and self.group.has("hose"):
            self._new("and")  # what is told after the hose to the standpipe's inlet works off it
        group = self.group
        if opens and self._link is not None and self._hangs(kind):
            self._new(self._link)
        elif kind in group.values:
            self._again(slot)
        elif opens and self._joined and group.whole:
            self._new("and")
        elif opens and kind != "len" and group.has("name", "family"):
            self._collide(kind)

    def _again(self, slot: Slot) -> None:
        """A slot that is filled already: another line, or the same said twice over."""
        kind, apart = slot.kind, self._joined or self._paused
        if self.group.values[kind] != slot.value or (kind in ("hose", "len", "name", "count") and apart):
            self._collide(kind)
        elif kind in ("hose", "len", "tip") and not apart:
            self.cost += DOUBTFUL if kind == "len" else LIKELY
        elif kind in ("name", "count"):
            self._collide(kind)

    def _counts_more(self) -> bool:
        """Another size or length follows this count: it counts those."""
        group = self.group
        if group.has("count") or not group.has("hose", "name") or not group.whole:
            return False
        told = (slot.kind for slot in self._ahead)
        stops = ("len", "hose", "count", "name", "family", "sep", "and", "split")
        return next((kind for kind in told if kind in stops), "") in ("len", "hose")

    def _lacks_length(self) -> bool:
        """ "Three inch to the wye is 250 feet, then …": the length is the feed's."""
        if self.split is None or self.group.values or len(self.groups) < 2 or self.feed_at is not None:
            return False
        feed = self.groups[-2]
        pause = bool(self._ahead) and self._ahead[0].kind in ("sep", "into", "and")
        return feed.has("hose") and not feed.has("len") and pause and feed.noun != "leg"

    def _hangs(self, kind: str) -> bool:
        """What begins now hangs on the group that is told of, as the word between says."""
        if not self.group.values:
            if self._link == "feed_next":
                self.feed_at = len(self.groups) - 1
                self._link = None
            return False
        if self._link == "feed_next":
            self.feed_at = len(self.groups)
            return True
        if kind == "count" and self._link == "into" and not self.group.whole and self.split is None:
            return False
        return self.group.has("len", "hose", "device") or self.split is not None

    def _collide(self, kind: str) -> None:
        """The slot is filled already: another line begins."""
        if not (self._joined or self._paused):
            plain = kind in ("name", "count", "device")
            self.cost += UNLIKELY if not self.group.whole else FAIR if plain else DOUBTFUL
        elif not self.group.whole and self.split is None and not self.group.has("hose", "len"):
            self.cost += UNSURE
        self._new("and")


def _float(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) else None


_OF_ALL = frozenset(("each", "total", "off_it", "upstairs", "climb"))
_ACTS: Mapping[str, Callable[[Builder, Slot], None]] = {
    "and": Builder.join, "split": Builder.splits, "siamese": Builder.siameses, "pump_psi": Builder.pumped,
    "label": Builder.nothing, "denied": Builder.nothing,
} | {
    act.__name__: act
    for act in (
        Builder.sep, Builder.into, Builder.onend, Builder.other, Builder.nth, Builder.leg, Builder.line, Builder.repair,
        Builder.feed, Builder.inlet, Builder.foam, Builder.percent, Builder.intake, Builder.unknown_name,
        Builder.high_place, Builder.family, Builder.device,
    )
}  # fmt: skip
"""What each kind of slot does; any other fills its place in the group."""
