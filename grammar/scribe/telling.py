"""What the facts of a message become: sets of vital signs, drugs and procedures; history and triage beside them.

Numbers and attributes go to what they stand nearest to; what is only readied, ordered, hoped or denied is nothing that
was done. Nothing is checked against ranges here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, cast

from msgspec.structs import replace

from grammar.commands_base import SaidTime, Spoken
from grammar.commands_medical import (
    Arrest,
    Medication,
    PatientTold,
    Procedure,
    Triage,
    Vitals,
)
from grammar.numbers import numbers_at
from grammar.scribe.clauses import Clause, Stance, clauses, denied, stance
from grammar.scribe.matching import Found, words_of_care
from grammar.scribe.person import patient_told
from grammar.scribe.tallies import triage
from grammar.text import Token

MGDL_PER_MMOL = 18.016
"""mg/dL a mmol/L of glucose: its molar mass, 180.16 g/mol, over ten."""
_FAHRENHEIT_FROM = 60.0
"""A temperature above this without its scale is in °F: no body has that in °C."""
_GAUGES = (12, 28)
_EVEN_GAUGES = (14, 16, 18, 20, 22, 24)
_MOST_OXYGEN = 25


@dataclass
class Anchor:
    """A drug or a procedure, with what was said of it."""

    what: Literal["drug", "procedure"]
    name: str
    clause: int
    at: int
    more: dict[str, Any] = field(default_factory=dict)


_OF_A_DRUG = frozenset(("dose", "route", "by", "nth"))
_OF_A_PROCEDURE = frozenset(
    (
        "gauge",
        "site",
        "failed",
        "vein",
        "tries",
        "size",
        "depth",
        "confirmed",
        "oxygen_flow",
        "oxygen_device",
        "reported",
    )
)
_IMPLIED = {"gauge": "iv access", "vein": "iv access", "oxygen_flow": "oxygen", "oxygen_device": "oxygen"}


class Telling:
    """The commands of one message; make one and read `commands`, `assumed`, `unplaced`, `not_done`."""

    def __init__(self, tokens: Sequence[Token], found: Sequence[Found], text: str) -> None:
        self.parts = clauses(tokens, found)
        self.found = list(found)
        self.text = text.strip()
        self.assumed: list[str] = []
        self.unplaced: list[float] = []
        """Numbers among vital signs that nobody named."""
        self.not_done: list[tuple[str, Stance]] = []
        """Drugs and procedures that were only readied, ordered or denied."""
        self.unclaimed: set[int] = set()
        """Clauses that the arrest's own frames read better."""
        self.doubtful: list[str] = []
        """Drugs that were named, with nothing to say that they were given."""
        self.numbers_used: set[int] = set()
        self.patient: str | None = None
        self.commands: list[Spoken] = []
        self._tell()

    def denies(self, kind: str) -> bool:
        """A fact of this kind stands behind a denial, or is hoped for."""
        care = words_of_care()
        for clause in self.parts:
            for fact in clause.of(kind):
                if denied(clause, fact) or {clause.words[i] for i in clause.left} & (care["hopes"] | care["readied"]):
                    return True
        return False

    # --- all of it

    def _tell(self) -> None:
        anchors = self._anchors()
        done = [command for anchor in anchors for command in self._done(anchor)]
        vitals = list(self._vitals(anchors))
        told = patient_told(self.found, self.parts)
        tallied = triage(self.found, self.parts, self.text)
        self.commands = [*([told] if told is not None else []), *vitals, *done, *tallied]

    def _time(self, clause: Clause | None) -> SaidTime | None:
        """When it was: said in its clause, or in the only one that says a time."""
        parts = [clause] if clause is not None and clause.has("ago", "clock") else []
        for part in parts:
            for fact in part.of("ago", "clock"):
                if "span" in fact.values:
                    return SaidTime(ago_s=fact.values["span"])
                if "clock" in fact.values:
                    return cast(SaidTime, fact.values["clock"])
                return SaidTime(ago_s=60.0)
        return None

    # --- drugs and procedures

    def _anchors(self) -> list[Anchor]:
        anchors: list[Anchor] = []
        for number, clause in enumerate(self.parts):
            for fact in clause.facts:
                if fact.kind == "drug":
                    if not self._at_home(clause, fact):
                        more = self._dose_of(fact)
                        anchors.append(Anchor("drug", fact.values["drug"], number, fact.start, more))
                elif fact.kind == "procedure":
                    anchors.append(self._procedure(fact, number))
        anchors = self._routes_not_lines(anchors)
        self._implied(anchors)
        anchors.sort(key=lambda anchor: anchor.at)
        for number, clause in enumerate(self.parts):
            for fact in clause.facts:
                self._attach(fact, number, anchors)
        self._bare_doses(anchors)
        self._bare_flows(anchors)
        return list(self._once(anchors))

    @staticmethod
    def _dose_of(fact: Found) -> dict[str, Any]:
        """The dose that stands in the drug's own words."""
        if "amount" not in fact.values and "dose_unit" not in fact.values:
            return {}
        more = {"amount": fact.values.get("amount", 1.0), "dose": True}
        return more | ({"unit": fact.values["dose_unit"]} if "dose_unit" in fact.values else {})

    def _routes_not_lines(self, anchors: list[Anchor]) -> list[Anchor]:
        """ "One gram IV in": beside a drug and with no place or gauge of its own an access is the drug's route."""
        kept = []
        for anchor in anchors:
            clause = self.parts[anchor.clause]
            drug = next((a for a in anchors if a.what == "drug" and a.clause == anchor.clause), None)
            access = anchor.name in ("iv access", "io access") and "site" not in anchor.more
            if drug is not None and access and not clause.has("gauge", "site", "tries", "failed", "vein"):
                drug.more |= {"route": anchor.name[:2].upper()}
                continue
            kept.append(anchor)
        return kept

    def _at_home(self, clause: Clause, fact: Found) -> bool:
        """ "On" a drug, or one among medicines and allergies: nothing that was given."""
        return any(one.start <= fact.start < one.end for one in self.found if one.kind in ("medicines", "allergies"))

    def _procedure(self, fact: Found, number: int) -> Anchor:
        more = {key: value for key, value in fact.values.items() if key in ("site", "ended")}
        if "airway_device" in fact.values:
            more["device"] = fact.values["airway_device"]
        if "n" in fact.values or "size" in fact.values:
            more["size"] = fact.values.get("size")
        return Anchor("procedure", fact.values["procedure"], number, fact.start, more)

    def _implied(self, anchors: list[Anchor]) -> None:
        """A gauge speaks of a vein, a flow and a mask of oxygen, "IV" beside no drug of an access."""
        drugs = [anchor for anchor in anchors if anchor.what == "drug"]
        for number, clause in enumerate(self.parts):
            here = [anchor for anchor in anchors if anchor.clause == number]
            for fact in clause.facts:
                name = _IMPLIED.get(fact.kind)
                if fact.kind == "oxygen_device" and drugs and not clause.has("oxygen_flow", "dose"):
                    name = None  # a drug by mask
                if fact.kind == "dose" and fact.values.get("dose_unit") == "L" and self._is_flow(clause, drugs, number):
                    name = "oxygen"
                if fact.kind == "dose" and fact.values.get("dose_unit") == "g" and not drugs and self._gauge(fact):
                    name = "iv access"
                route = fact.values.get("route") if fact.kind == "route" else None
                near = [drug for drug in drugs if drug.clause == number]
                if route in ("IV", "IO") and not near and (clause.has("gauge", "site", "tries", "failed") or not drugs):
                    name = "iv access" if route == "IV" else "io access"
                if name is None or any(anchor.name == name for anchor in (*here, *anchors)):
                    continue
                anchors.append(Anchor("procedure", name, number, fact.start))
                here.append(anchors[-1])

    @staticmethod
    def _is_flow(clause: Clause, drugs: list[Anchor], number: int) -> bool:
        if clause.has("oxygen_device", "oxygen_flow"):
            return True
        return not any(drug.clause in (number, number - 1) for drug in drugs)

    @staticmethod
    def _gauge(fact: Found) -> bool:
        return bool(_GAUGES[0] <= fact.values.get("dose", 0) <= _GAUGES[1])

    def _attach(self, fact: Found, number: int, anchors: list[Anchor]) -> None:
        kind, values = fact.kind, dict(fact.values)
        if kind == "dose" and values.get("dose_unit") == "L" and any(a.name == "oxygen" for a in anchors):
            near = self._nearest([a for a in anchors if a.what == "drug" and a.clause == number], fact, number, "dose")
            if near is None:
                kind, values = "oxygen_flow", {"flow_lpm": values.get("dose", 1.0)}
        if kind == "dose" and values.get("dose_unit") == "g" and not any(a.what == "drug" for a in anchors):
            kind, values = "gauge", {"gauge": values.get("dose", 1.0)}
        if kind == "response":
            drugs = [anchor for anchor in anchors if anchor.what == "drug"]
            target = self._nearest(drugs, fact, number, "response")
            if target is not None:
                target.more["response"] = values["response"]
            return
        readied = words_of_care()["readied"] & {*self.parts[number].said}
        if kind == "site" and readied and not any(anchor.clause == number for anchor in anchors):
            return  # "trying the other arm"
        what = "drug" if kind in _OF_A_DRUG else "procedure" if kind in _OF_A_PROCEDURE else None
        if what is None:
            return
        among = [anchor for anchor in anchors if anchor.what == what]
        if kind == "gauge":
            among = [anchor for anchor in among if anchor.name in ("iv access", "io access")]
        if kind in ("oxygen_flow", "oxygen_device"):
            among = [a for a in among if a.name in ("oxygen", "bag-valve-mask ventilation", "nebuliser")]
        if kind == "reported":
            among = [anchor for anchor in among if anchor.name == "12-lead ECG"]
        if kind in ("size", "depth", "confirmed"):
            among = [anchor for anchor in among if anchor.name == "airway"]
        target = self._nearest(among, fact, number, kind)
        if target is not None:
            self._put(target, kind, values)

    @staticmethod
    def _nearest(anchors: list[Anchor], fact: Found, number: int, kind: str) -> Anchor | None:
        """The one of its clause that stands nearest and has no such thing yet; else the last before; else the next."""
        here = [anchor for anchor in anchors if anchor.clause == number and kind not in anchor.more]
        if here:
            return min(here, key=lambda anchor: abs(anchor.at - fact.start))
        before = [anchor for anchor in anchors if anchor.clause <= number and kind not in anchor.more]
        return before[-1] if before else next((anchor for anchor in anchors if kind not in anchor.more), None)

    def _put(self, anchor: Anchor, kind: str, values: dict[str, Any]) -> None:
        more = anchor.more
        more[kind] = True
        match kind:
            case "dose":
                more["amount"] = values.get("dose", 1.0)
                more["unit"] = values.get("dose_unit") or _unit_of(values)
            case "route" | "by" | "site" | "reported":
                more[kind] = values[kind]
            case "nth":
                said = values.get("nth", values.get("count"))
                more["nth_said"] = int(said) if said is not None else None
            case "gauge" | "tries" | "size":
                more[kind] = values.get(kind, values.get("nth"))
                if "vein" in values:
                    more["site"] = values["vein"]
            case "depth":
                more["depth_cm"] = values.get("depth_cm")
            case "failed" | "vein":
                more["success"] = False
            case "confirmed":
                more["confirmed_by"] = (*more.get("confirmed_by", ()), values["confirmed"])
                more.pop(kind)
            case "oxygen_flow":
                more["flow_lpm"] = values["flow_lpm"]
            case "oxygen_device":
                more["device"] = values["oxygen_device"]

    def _bare_doses(self, anchors: list[Anchor]) -> None:
        """A number without a unit beside a drug is its dose, its unit not said."""
        for anchor in anchors:
            if anchor.what != "drug" or "amount" in anchor.more:
                continue
            alone = len([a for a in anchors if a.clause == anchor.clause]) == 1
            reach = [anchor.clause]
            if anchor.clause + 1 < len(self.parts) and not self.parts[anchor.clause + 1].has(
                "vital", "drug", "procedure", "dose", "gauge", "group"
            ):
                reach.append(anchor.clause + 1)
            for number in reach if alone else reach[:1]:
                found = next(self._loose(self.parts[number]), None)
                if found is not None:
                    at, end, value = found
                    anchor.more["amount"] = value
                    self.numbers_used.update(range(at, end))
                    break

    @staticmethod
    def _once(anchors: list[Anchor]) -> Iterator[Anchor]:
        """ "Drilled the left tibia, IO's good": what only names it again is no second one."""
        seen: set[str] = set()
        for anchor in anchors:
            if anchor.what == "procedure" and anchor.name in seen and not anchor.more:
                continue
            seen.add(anchor.name)
            yield anchor

    def _bare_flows(self, anchors: list[Anchor]) -> None:
        """ "Fifteen by mask": a number beside oxygen's mask is litres a minute; beside an access its gauge."""
        for anchor in anchors:
            oxygen = anchor.name == "oxygen" and "flow_lpm" not in anchor.more and "device" in anchor.more
            access = anchor.name == "iv access" and "gauge" not in anchor.more
            if not (oxygen or access):
                continue
            for at, end, value in list(self._loose(self.parts[anchor.clause])):
                if oxygen and 0 < value <= _MOST_OXYGEN:
                    anchor.more["flow_lpm"] = value
                elif access and value in _EVEN_GAUGES:
                    anchor.more["gauge"] = value
                else:
                    continue
                self.numbers_used.update(range(at, end))
                break

    def _loose(self, clause: Clause) -> Iterator[tuple[int, int, float]]:
        """Numbers of a clause that no fact takes: (first word, end, value)."""
        at = clause.lo
        free = set(clause.left) - self.numbers_used
        while at < clause.hi:
            ways = [n for n in numbers_at(clause.words, at) if n.form not in ("ordinal", "time")] if at in free else []
            ways = [n for n in ways if all(i in free for i in range(at, n.end)) and n.cost <= 0.4]
            if ways:
                best = min(ways, key=lambda n: (-n.end, n.cost))
                if not (clause.words[at] == "a" or (clause.words[at] == "one" and at + 1 < clause.hi)):
                    yield at, best.end, best.value
                at = best.end
            else:
                at += 1

    def _done(self, anchor: Anchor) -> Iterator[Spoken]:
        clause, more = self.parts[anchor.clause], anchor.more
        time = self._time(clause)
        how = stance(clause, anchor.at)
        if anchor.what == "drug" and how == "denied" and more.get("response") == "unchanged":
            how = "said"
        if how != "said":
            self.not_done.append((anchor.name, how))
            return
        if anchor.what == "procedure":
            yield self._as_procedure(anchor, time)
            return
        amount, unit, route = more.get("amount"), more.get("unit"), more.get("route")
        by = more.get("by")
        if (
            anchor.name == "epinephrine"
            and by is None
            and route in (None, "IV", "IO")
            and (amount, unit)
            in (
                (None, None),
                (1.0, "mg"),
                (1.0, None),
            )
        ):
            if route is None or amount is None:
                self.unclaimed.add(anchor.clause)
                return
            yield Arrest("epinephrine", text=" ".join(clause.said), time=time)
            return
        said = {clause.words[i] for i in clause.left}
        behind = self.parts[anchor.clause + 1] if anchor.clause + 1 < len(self.parts) else None
        if behind is not None and not behind.has("drug", "procedure", "vital"):
            said |= {behind.words[i] for i in behind.left}
        shown = (
            amount is not None
            or route
            or "nth" in more
            or more.get("by")
            or said & words_of_care()["done"] | {word for word in said if word in ("in", "down", "going", "on")}
        )
        if not shown:
            self.doubtful.append(anchor.name)
            return
        yield Medication(
            drug=anchor.name,
            dose=amount,
            unit=unit,
            route=route,
            by=by,
            response=more.get("response"),
            nth=more.get("nth_said"),
            before_arrival=by in ("patient", "family", "bystander") or clause.has("prior"),
            time=time,
        )

    def _as_procedure(self, anchor: Anchor, time: SaidTime | None) -> Procedure:
        more = anchor.more
        reported = self._shown(anchor) if anchor.name == "12-lead ECG" else more.get("reported")
        tries = more.get("tries")
        success = more.get("success")
        if success is None and anchor.name in ("iv access", "io access") and (more.get("gauge") or more.get("site")):
            success = True
        return Procedure(
            procedure=anchor.name,
            site=_plain_site(more.get("site")),
            gauge=more.get("gauge"),
            tries=int(tries) if tries else None,
            success=success,
            device=more.get("device"),
            size=more.get("size"),
            depth_cm=more.get("depth_cm"),
            confirmed=tuple(more.get("confirmed_by", ())),
            flow_lpm=more.get("flow_lpm"),
            reported=reported,
            ended=more.get("ended") == "yes",
            time=time,
        )

    def _shown(self, anchor: Anchor) -> str | None:
        """What a 12-lead showed: all that is said behind it, up to what tells of something else."""
        fact = next(one for one in self.found if one.start == anchor.at)
        clause = self.parts[anchor.clause]
        words = clause.words[fact.end : clause.hi]
        for part in self.parts[anchor.clause + 1 :]:
            if part.has("vital", "drug", "procedure", "gauge", "dose", "age", "transferred"):
                break
            words += [",", *part.said]
        idle = words_of_care()["plain"] | words_of_care()["done"] | {"shows", "showing", "sent", "transmitted", ","}
        while words and words[0] in idle:
            words = words[1:]
        return " ".join(words).replace(" ,", ",") or None

    # --- vital signs

    def _vitals(self, anchors: list[Anchor]) -> Iterator[Vitals]:
        fields: dict[str, Any] = {}
        time: SaidTime | None = None
        burns: list[str] = []
        burned = any(fact.kind == "burns" for fact in self.found)
        for clause in self.parts:
            if {clause.words[i] for i in clause.left} & words_of_care()["supposed"]:
                continue
            for fact in clause.facts:
                if fact.kind == "vital":
                    new = self._vital(fact)
                    if any(key in fields and key != "palpated" for key in new):
                        yield self._set(fields, time, burns)
                        fields, burns = {}, []
                    fields |= new
                    time = self._time(clause) or time
                elif fact.kind == "apgar":
                    fields |= {"apgar": fact.values["apgar"], "apgar_minute": _apgar_minute(clause, fact)}
                elif fact.kind == "apgar_parts":
                    parts = tuple(fact.values[key] for key in ("a", "b", "c", "e", "f"))
                    fields |= {"apgar_parts": parts, "apgar_minute": _apgar_minute(clause, fact)}
                elif fact.kind == "rhythm" and not any(anchor.name == "12-lead ECG" for anchor in anchors):
                    fields["rhythm"] = fact.values["rhythm"]
                elif fact.kind == "room_air":
                    fields["room_air"] = True
                elif burned and fact.kind in ("burns", "burn_part", "site"):
                    part = fact.values.get("burn_part") or _plain_site(fact.values.get("site"))
                    burns += [part] if part else []
            self._bare(clause, fields)
        if fields or burns:
            yield self._set(fields, time, burns)

    def _set(self, fields: dict[str, Any], time: SaidTime | None, burns: list[str]) -> Vitals:
        return Vitals(**fields, time=time, burns=tuple(burns))

    def _vital(self, fact: Found) -> dict[str, Any]:
        values = {key: value for key, value in fact.values.items() if key in Vitals.__struct_fields__}
        unit = fact.values.get("unit")
        if "glucose" in values and unit == "mmol":
            values["glucose"] *= MGDL_PER_MMOL
        if "temperature" in values:
            said = values["temperature"]
            if unit == "f" or (unit is None and said > _FAHRENHEIT_FROM):
                values["temperature"] = (said - 32) * 5 / 9
                if unit is None:
                    self.assumed.append(f"{said:g} taken in °F")
        if "palpated" in values:
            values["palpated"] = True
        return values

    def _bare(self, clause: Clause, fields: dict[str, Any]) -> None:
        """ "130 over 80, 88": the number by itself behind a pressure is the pulse, and is said so; others are asked."""
        if not fields or clause.facts or (clause.unread and not self._only_numbers(clause)):
            return
        for at, end, value in self._loose(clause):
            self.numbers_used.update(range(at, end))
            later = {key for fact in self.found if fact.start > at for key in fact.values}
            if "systolic" in fields and "pulse" not in fields and "pulse" not in later and value == int(value):
                fields["pulse"] = value
                self.assumed.append(f"{value:g} taken as the pulse")
            elif "pulse" in fields and "breaths" not in fields and "breaths" not in later and 4 <= value <= 60:
                fields["breaths"] = value
                self.assumed.append(f"{value:g} taken as the respirations")
            else:
                self.unplaced.append(value)

    def _only_numbers(self, clause: Clause) -> bool:
        spoken = {i for at, end, _ in self._loose(clause) for i in range(at, end)}
        plain = words_of_care().get("plain", frozenset())
        return all(i in spoken or clause.words[i] in plain for i in clause.left)


def _unit_of(values: dict[str, Any]) -> str | None:
    return cast("str | None", values.get("unit"))


def _plain_site(site: str | None) -> str | None:
    if site is None:
        return None
    words = [
        word for word in site.split() if word not in ("in", "on", "to", "at", "via", "the", "his", "her", "a", "of")
    ]
    return " ".join({"l": "left", "r": "right"}.get(word, word) for word in words)


def _apgar_minute(clause: Clause, fact: Found) -> float | None:
    said = clause.words[clause.lo : clause.hi]
    text = " ".join(said)
    if "five minute" in text or "5 minute" in text or "at five" in text or "at 5" in text:
        return 5
    return 1 if any(way in text for way in ("one minute", "1 minute", "at one", "at 1")) else None


def with_patient(commands: Iterable[Spoken], patient: str | None, text: str) -> list[Spoken]:
    """The commands of that patient, each with the words as they were said."""
    found: list[Spoken] = []
    for command in commands:
        if isinstance(command, Vitals | Medication | Procedure | PatientTold | Triage):
            command = replace(command, patient=patient, text=text)
        found.append(command)
    return found
