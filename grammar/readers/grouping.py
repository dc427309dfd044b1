"""Cuts typed items into groups: each one run of hose or one line, and how it hangs on the one before."""

from __future__ import annotations

from grammar.readers.slot_rules import Slot


class Group:
    """Slots that belong to one run of hose or one line."""

    __slots__ = ("count_at", "line_at", "link", "many", "noun", "plural", "short", "used", "values")

    def __init__(self, link: str | None) -> None:
        self.values: dict[str, object] = {}
        self.link = link
        self.noun: str | None = None
        self.many: tuple[str, ...] = ()
        self.plural = False
        self.short = False
        """The length was said the short way ("two fifty")."""
        self.used = 0
        self.count_at = -1
        self.line_at = -1
        """Where the count and the word "lines" stand."""

    @property
    def counts_lines(self) -> bool:
        """ "two lines …": how many there are in all, or of the first kind."""
        return self.count_at >= 0 and self.line_at == self.count_at + 1

    def has(self, *kinds: str) -> bool:
        return any(k in self.values for k in kinds)

    @property
    def whole(self) -> bool:
        """Could be a line by itself."""
        return self.has("name", "family", "device") or (self.has("hose") and self.has("len"))

    @property
    def empty(self) -> bool:
        return not self.values

    def num(self, kind: str) -> float | None:
        value = self.values.get(kind)
        return float(value) if isinstance(value, int | float) else None


class Builder:
    """Walks the slots once and cuts them into groups."""

    def __init__(self) -> None:
        self.groups: list[Group] = [Group(None)]
        self.cost = 0.0
        self.split: str | None = None
        self.split_at = -1
        self.feed_at: int | None = None
        self.siamese: list[int] = []
        self.joined = False
        self.paused = False
        self.link: str | None = None
        self.repair = False
        self.used = 0
        self.extra: dict[str, object] = {}
        self.each = False
        self.total = False
        self.ahead: list[Slot] = []
        self.linked_at = -1

    @property
    def group(self) -> Group:
        return self.groups[-1]

    def new(self, link: str | None) -> None:
        if not self.group.empty:
            self.groups.append(Group(link))
        elif link:
            self.group.link = link
        self.joined = self.paused = False
        self.link = None

    def take(self, slot: Slot) -> None:
        if slot.kind not in ("into", "onend"):
            self.used |= 1 << slot.at
        handler = getattr(self, f"on_{slot.kind}", None)
        if handler is not None:
            handler(slot)
        else:
            self.put(slot)

    # words between
    def on_sep(self, slot: Slot) -> None:
        self.paused = True
        if slot.value in (";", "."):
            self.joined = True

    def on_and(self, slot: Slot) -> None:
        self.joined = True

    def on_into(self, slot: Slot) -> None:
        self.link = "into"
        self.linked_at = slot.at
        if slot.value in ("then", "and then"):
            self.joined = True

    def finish(self) -> None:
        """Lines "off" a feed hang on a wye: what was told first or last feeds them."""
        if self.split is not None or len(self.groups) < 2:
            return
        if self.link == "onend" and self.groups[0].has("hose", "len"):
            self.split, self.split_at = "wye", 1
            self.used |= 1 << self.linked_at
        one, feed = self.groups[0], self.groups[1]
        if len(self.groups) == 2 and feed.link == "onend" and (one.num("count") or 1) > 1:
            self.extra["feeds"] = feed.has("count")
            if not feed.has("count"):
                self.split, self.split_at = "wye", 0  # "two 1¾ lines off 200 feet of 3 inch"

    def on_onend(self, slot: Slot) -> None:
        if slot.value == "off" and self.split is None and all(group.empty for group in self.groups):
            self.on_split(slot._replace(kind="split", value="wye", form="off"))  # "off 200 feet of 3 inch, two …"
            self.used |= 1 << slot.at
            return
        fresh = self.split is not None and self.group.empty and self.feed_at is None
        self.link = "feed_next" if fresh else "onend"
        self.linked_at = slot.at

    def on_other(self, slot: Slot) -> None:
        if self.group.has("len", "hose", "name", "floor"):
            self.new("and")

    def on_label(self, slot: Slot) -> None:
        if slot.value not in ("not", "of", "with", "at", "@", "to"):
            return

    def on_repair(self, slot: Slot) -> None:
        self.repair = True
        self.joined = self.paused = False

    def on_off_it(self, slot: Slot) -> None:
        self.extra["off_it"] = True

    def on_denied(self, slot: Slot) -> None:
        self.extra["denied"] = True

    def on_line(self, slot: Slot) -> None:
        self.group.noun = self.group.noun or "line"
        self.group.line_at = slot.at if self.group.line_at < 0 else self.group.line_at
        self.group.plural = self.group.plural or slot.form.endswith("s")

    def on_leg(self, slot: Slot) -> None:
        if (
            self.group.has("len", "hose")
            and not self.group.has("count")
            and self.group.noun is None
            and (self.joined or self.paused)
        ):
            self.new("and")
        self.group.noun = "leg"

    def on_nth(self, slot: Slot) -> None:
        if self.group.has("len", "hose", "name"):
            self.new("and")
        self.group.noun = "line"

    def on_feed(self, slot: Slot) -> None:
        if (self.group.empty and len(self.groups) > 1 and not self.paused) or (
            self.group.whole and not self.group.has("device") and not self.paused
        ):
            self.feed_at = len(self.groups) - 1
        elif self.group.has("device"):
            self.link = self.link or "feeds"
        elif self.group.has("hose") and not self.group.has("len") and not (self.paused or self.joined):
            self.feed_at = len(self.groups) - 1  # "three inch leader, 300 feet"
        else:
            self.new("and")
            self.feed_at = len(self.groups) - 1

    def on_siamese(self, slot: Slot) -> None:
        self.siamese.append(len(self.groups) - 1)
        self.link = "into"

    def on_inlet(self, slot: Slot) -> None:
        self.group.values["inlet"] = True
        self.link = None

    def on_split(self, slot: Slot) -> None:
        if self.split is None:
            self.split = str(slot.value)
            if self.link == "onend":  # "two lines off a wye": legs so far
                for group in self.groups:
                    group.noun = "leg"
            had = any(g.has("len", "hose", "name") for g in self.groups)
            self.new("split")
            self.split_at = len(self.groups) - 1 if had else 0
            self.link = "feed_next" if "off" in slot.form.split() else None
            self.joined = False

    def on_each(self, slot: Slot) -> None:
        self.each = True

    def on_total(self, slot: Slot) -> None:
        self.total = True

    def on_foam(self, slot: Slot) -> None:
        self.group.values.setdefault("device", "eductor")

    def on_percent(self, slot: Slot) -> None:
        self.group.values["foam"] = slot.value

    def on_intake(self, slot: Slot) -> None:
        self.extra["intake"] = slot.value

    def on_pump_psi(self, slot: Slot) -> None:
        if "pump_psi" in self.extra:
            self.cost += 1.0
        self.extra["pump_psi"] = slot.value

    def on_unknown_name(self, slot: Slot) -> None:
        self.extra["unknown_name"] = True
        self.put(slot)

    def on_upstairs(self, slot: Slot) -> None:
        self.extra["floor_asked"] = True

    def on_high_place(self, slot: Slot) -> None:
        self.extra["floor_asked"] = True
        self.put(slot._replace(kind="place"))

    def on_climb(self, slot: Slot) -> None:
        self.extra["rise_asked"] = True

    def on_family(self, slot: Slot) -> None:
        assert isinstance(slot.value, tuple)
        count = self.group.num("count")
        self.put(slot)
        self.group.many = slot.value
        if count is not None and count == len(slot.value):
            self.group.values["every"] = True
            self.group.values.pop("count", None)

    def on_device(self, slot: Slot) -> None:
        group = self.group
        if (
            group.has("len", "hose", "count")
            and not group.has("device")
            and slot.value in ("monitor", "aerial", "deck_gun")
        ):
            self.link = None
            group.values["device"] = slot.value
            group.used |= 1 << slot.at
            return
        if self.link == "onend":
            self.link = None
        if slot.value == "eductor" and self.link == "into" and group.has("len", "hose"):
            group.values["device"] = "eductor"  # "100 feet of 2½ to an eductor, then …": hose before it
            group.values["before_eductor"] = True
            group.used |= 1 << slot.at
            self.used |= 1 << self.linked_at
            return
        self.put(slot)

    # values
    def put(self, slot: Slot) -> None:
        group = self.group
        kind = slot.kind
        if slot.form == "at":
            self.extra["at"] = True
        if kind == "floor":
            self.extra["floor_apart"] = self.paused
        if self.repair and kind in group.values:
            group.values[kind] = slot.value
            self.repair = False
            return
        if (
            kind == "count"
            and slot.form.startswith("both")
            and group.num("count") == 2
            and not group.has("len", "hose")
        ):
            return  # "two lines, both inch and three quarter"
        if kind == "len" and self._of_feed():
            self.groups[-2].values["len"] = slot.value
            return
        if (
            kind == "count"
            and group.has("hose", "name")
            and group.whole
            and "count" not in group.values
            and self._more_hose()
        ):
            self.new("and")
            group = self.group
        opens = kind in ("len", "hose", "count", "name", "family", "device", "unknown_name")
        if self.link is not None and self.linked_at >= 0 and (opens or kind in ("floor", "place")):
            self.used |= 1 << self.linked_at
        if opens and group.has("inlet") and group.has("len") and group.has("hose"):
            self.new("and")  # what is told after the hose to the standpipe's inlet works off it
            group = self.group
        if opens and self.link in ("into", "onend", "feed_next", "feeds") and self._links(kind):
            self.new(self.link)
        elif kind in group.values and group.values[kind] != slot.value:
            self._collide(kind)
        elif kind in group.values:
            if not (self.joined or self.paused) and kind in ("hose", "len", "tip"):
                self.cost += 0.5 if kind == "len" else 0.05  # said twice over
            elif kind in ("hose", "len", "name", "count"):
                self._collide(kind)
        elif opens and self.joined and group.whole:
            self.new("and")
        elif (
            opens
            and group.has("name", "family")
            and kind in ("count", "device", "hose", "name", "family")
            and group.values
        ):
            self._collide(kind)
        self.joined = self.paused = False
        self.link = None
        if kind == "len":
            self.group.short = slot.form == "hundreds"
        if kind == "count":
            self.group.count_at = slot.at
        self.group.values[kind] = slot.value
        self.group.used |= 1 << slot.at

    def _more_hose(self) -> bool:
        """Another size or length follows this count: it counts those."""
        for slot in self.ahead:
            if slot.kind in ("len", "hose"):
                return True
            if slot.kind in ("count", "name", "family", "sep", "and", "split"):
                return False
        return False

    def _of_feed(self) -> bool:
        """ "Three inch to the wye is 250 feet, then …": the length is the feed's."""
        if self.split is None or not self.group.empty or len(self.groups) < 2 or self.feed_at is not None:
            return False
        feed = self.groups[-2]
        pause = bool(self.ahead) and self.ahead[0].kind in ("sep", "into", "and")
        return feed.has("hose") and not feed.has("len") and pause and feed.noun != "leg"

    def _links(self, kind: str) -> bool:
        if self.group.empty:
            if self.link == "feed_next":
                self.feed_at = len(self.groups) - 1
                self.link = None
            return False
        if self.link == "feed_next":
            self.feed_at = len(self.groups)
            return True
        if kind == "count" and self.link == "into" and not self.group.whole and self.split is None:
            return False
        return self.group.has("len", "hose", "device") or (self.split is not None)

    def _collide(self, kind: str) -> None:
        """The slot is filled already: another line begins."""
        if not (self.joined or self.paused):
            self.cost += (
                0.12 if self.group.whole and kind in ("name", "count", "device") else 0.6 if self.group.whole else 1.0
            )
        elif not self.group.whole and self.split is None and not self.group.has("hose", "len"):
            self.cost += 0.4
        self.new("and")
