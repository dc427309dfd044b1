"""What the facts of a message become: sets of vital signs, drugs, procedures, history, triage, each clause with its stance.

Numbers and attributes go to what they stand nearest to; what is only readied, ordered, hoped or denied is nothing that was
done. Nothing is checked against ranges here.
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
    TriageGroup,
    Vitals,
)
from grammar.numbers import numbers_at
from grammar.scribe.matching import MARKS, Found, words_of_care
from grammar.text import Token

Stance = Literal["said", "readied", "denied"]
_LB = 0.45359237
"""kg a pound (NIST Handbook 44, exact)."""
MGDL_PER_MMOL = 18.016
"""mg/dL a mmol/L of glucose: its molar mass, 180.16 g/mol, over ten."""
_FAHRENHEIT_FROM = 60.0
"""A temperature above this without its scale is in °F: no body has that in °C."""
_GAUGES = (12, 28)
_EVEN_GAUGES = (14, 16, 18, 20, 22, 24)
_MOST_OXYGEN = 25
_LISTED = 6
"""Words of a further part of a list at most."""


@dataclass
class Clause:
    """What stands between two pauses: its tokens, the facts that begin in it, the words that none of them takes."""

    lo: int
    hi: int
    facts: list[Found]
    left: list[int]
    words: list[str]
    """All words of the message."""

    def has(self, *kinds: str) -> bool:
        return any(fact.kind in kinds for fact in self.facts)

    def of(self, *kinds: str) -> list[Found]:
        return [fact for fact in self.facts if fact.kind in kinds]

    @property
    def said(self) -> list[str]:
        return self.words[self.lo : self.hi]

    @property
    def unread(self) -> list[str]:
        """Words that say something more than what was understood."""
        plain = words_of_care().get("plain", frozenset())
        return [self.words[i] for i in self.left if self.words[i] not in plain]


def clauses(tokens: Sequence[Token], found: Sequence[Found]) -> list[Clause]:
    """The message parted at its pauses; a fact belongs to the clause it begins in, and holds that together."""
    words = [token.text for token in tokens]
    taken = {i for fact in found for i in range(fact.start, fact.end)}
    parts: list[Clause] = []
    lo = 0
    for i in range(len(words) + 1):
        if i < len(words) and (i in taken or not (words[i] in MARKS or words[i] == "then")):
            continue
        if i > lo:
            parts += _split_at_and(words, lo, i, found, taken)
            lo = i + 1
            continue
        lo = i + 1
    return parts


def _split_at_and(words: list[str], lo: int, hi: int, found: Sequence[Found], taken: set[int]) -> list[Clause]:
    """A clause in two at an "and" with nothing of a patient on one side of it: that side may tell something by itself."""
    for i in range(lo + 1, hi - 1):
        if words[i] in ("and", "but") and i not in taken:
            before = any(lo <= fact.start < i for fact in found)
            behind = any(i < fact.start < hi for fact in found)
            if before != behind:
                return [_clause(words, lo, i, found, taken), _clause(words, i + 1, hi, found, taken)]
    return [_clause(words, lo, hi, found, taken)]


def _clause(words: list[str], lo: int, hi: int, found: Sequence[Found], taken: set[int]) -> Clause:
    inside = [fact for fact in found if lo <= fact.start < hi]
    return Clause(lo, hi, inside, [k for k in range(lo, hi) if k not in taken], words)


def stance(clause: Clause, at: int) -> Stance:
    """What the words of a clause make of the drug or procedure at token `at`."""
    care = words_of_care()
    before = [clause.words[i] for i in clause.left if i < at]
    said = [clause.words[i] for i in clause.left]
    if any(word in care["denials"] for word in before) or {"not", "never", "isnt", "wasnt"} & {*said}:
        return "denied"
    if clause.has("later") or any(said[k : k + 2] in (["going", "to"], ["about", "to"]) for k in range(len(said))):
        return "readied"
    first = next((word for word in said if word not in ("ok", "okay", "lets", "go", "ahead", "and", "please")), "")
    done = any(word in care["done"] for word in said)
    if any(word in care["readied"] for word in said) and not (done and not {"want", "if", "could", "should"} & {*said}):
        return "readied"
    if first in care["commands"] and clause.left and clause.left[0] < at:
        return "readied"
    return "said"


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
                if _denied(clause, fact) or {clause.words[i] for i in clause.left} & (care["hopes"] | care["readied"]):
                    return True
        return False

    # --- all of it

    def _tell(self) -> None:
        anchors = self._anchors()
        done = [command for anchor in anchors for command in self._done(anchor)]
        vitals = list(self._vitals(anchors))
        told = self._patient_told()
        triage = self._triage()
        self.commands = [*([told] if told is not None else []), *vitals, *done, *triage]

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
        return _GAUGES[0] <= fact.values.get("dose", 0) <= _GAUGES[1]

    def _attach(self, fact: Found, number: int, anchors: list[Anchor]) -> None:
        kind, values = fact.kind, dict(fact.values)
        if kind == "dose" and values.get("dose_unit") == "L" and any(a.name == "oxygen" for a in anchors):
            near = self._nearest([a for a in anchors if a.what == "drug" and a.clause == number], fact, number, "dose")
            if near is None:
                kind, values = "oxygen_flow", {"flow_lpm": values["dose"]}
        if kind == "dose" and values.get("dose_unit") == "g" and not any(a.what == "drug" for a in anchors):
            kind, values = "gauge", {"gauge": values["dose"]}
        if kind == "response":
            drugs = [anchor for anchor in anchors if anchor.what == "drug"]
            target = self._nearest(drugs, fact, number, "response")
            if target is not None:
                target.more["response"] = values["response"]
            return
        if kind == "site" and words_of_care()["readied"] & {*self.parts[number].said}:
            if not any(anchor.clause == number for anchor in anchors):
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
        """ "Fifteen by non rebreather": a number beside oxygen's mask is litres a minute; beside an access its gauge."""
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
        if not fields or clause.facts or clause.unread and not self._only_numbers(clause):
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

    # --- who it is

    def _patient_told(self) -> PatientTold | None:
        told: dict[str, Any] = {}
        findings: list[str] = []
        person = any(fact.kind in ("sex", "patient_word", "age", "sexed_age", "patient", "who") for fact in self.found)
        for clause in self.parts:
            for fact in clause.facts:
                self._history(fact, clause, told, person)
                if fact.kind in ("finding", "mechanism"):
                    findings.append(fact.values.get("finding") or fact.values.get("mechanism") or "")
        if not told and not findings:
            return None
        return PatientTold(**told)

    def _history(self, fact: Found, clause: Clause, told: dict[str, Any], person: bool) -> None:
        values = fact.values
        match fact.kind:
            case "age" | "sexed_age":
                told["age"] = values["age"]
                if "age_unit" in values:
                    told["age_unit"] = values["age_unit"]
                if "sex" in values or "sexed" in values or "sexed_long" in values:
                    told["sex"] = values.get("sex") or values.get("sexed") or values["sexed_long"]
            case "about_age" if person and "age" not in told and 0 < values["age"] <= 110:
                told["age"] = values["age"]
            case "sex":
                told.setdefault("sex", values["sex"])
            case "complaint" | "mechanism" if not _denied(clause, fact):
                said = values.get("complaint") or values.get("words") or values.get("mechanism")
                told["complaint"] = ", ".join(dict.fromkeys(filter(None, (told.get("complaint"), said))))
            case "onset":
                if "span" in values:
                    told["onset_s"] = values["span"]
                if "clock" in values:
                    told["onset_time"] = values["clock"]
            case "well":
                if "span" in values:
                    told["well_s"] = values["span"]
                if "clock" in values:
                    told["well_time"] = values["clock"]
            case "allergies" | "medicines" | "history":
                said = values.get(fact.kind) or values.get("words")
                if said is None or fact.kind == "medicines":
                    said = " ".join(clause.words[fact.start : fact.end])
                told[fact.kind] = ", ".join((said, *self._listed_on(clause)))
            case "weight":
                told["weight_kg"] = values["weight"] * (_LB if values.get("unit") == "lb" else 1.0)
            case "unstable":
                told["unstable"] = values["unstable"] == "yes"
            case "trapped" if not _denied(clause, fact):
                told["trapped"] = True
            case "freed":
                told["trapped"] = False
            case "born":
                told["born"] = True
            case "disposition":
                told["disposition"] = values["disposition"]
                if "destination" in values or "few" in values:
                    told["to"] = values.get("destination") or values.get("few")

    def _listed_on(self, clause: Clause) -> Iterator[str]:
        """ "Metoprolol, lisinopril and eliquis": clauses behind a list that tell nothing by themselves are more of it."""
        for part in self.parts[self.parts.index(clause) + 1 :]:
            if part.facts or len(part.said) > _LISTED:
                return
            yield " ".join(part.said)

    # --- triage

    def _triage(self) -> Iterator[Triage]:
        kinds = {fact.kind for fact in self.found}
        place = next((_place(fact, clause) for clause in self.parts for fact in clause.of("place")), None)
        unit = next((fact.values["unit"] for fact in self.found if "unit" in fact.values), None)
        if "triage_started" in kinds:
            yield Triage("started")
        if "all_gone" in kinds:
            yield Triage("transported", all=True, unit=unit)
        for fact in (one for one in self.found if one.kind == "changed"):
            one = TriageGroup(fact.values["category"], int(fact.values.get("count", 1)))
            yield Triage("changed", (one,), to_category=fact.values["category_to"])
        groups = tuple(_group(fact) for fact in self.found if fact.kind == "group")
        if groups:
            gone = "gone" in kinds or any(f.kind in ("disposition", "transferred") for f in self.found)
            if gone:
                yield Triage("transported", groups, unit=unit or self._company(), place=None)
            elif "moved" in kinds:
                yield Triage("moved", groups, place=self._moved_to())
            else:
                total = any(
                    {"total", "now", "altogether", "all"} & {clause.words[i] for i in clause.left}
                    and not clause.has("changed")
                    for clause in self.parts
                    if clause.has("group")
                )
                yield Triage("total" if total and "total" in self.text.casefold() else "counted", groups, place=place)
        elif "changed_patient" in kinds and "changed" not in kinds:
            to = next(fact.values["category"] for fact in self.found if fact.kind == "changed_patient")
            yield Triage("changed", to_category=to)
        for fact in (one for one in self.found if one.kind == "wanted"):
            yield Triage("wanted", count=int(fact.values.get("count", 1)), want="ambulances")
        for fact in (one for one in self.found if one.kind == "total" and not groups):
            yield Triage("total", count=int(fact.values["count"]), place=place)

    def _company(self) -> str | None:
        words = self.parts[0].words if self.parts else []
        companies = words_of_care().get("companies", frozenset())
        for i, word in enumerate(words[:-1]):
            if word in companies:
                number = next((n for n in numbers_at(words, i + 1) if n.form in ("int", "digits")), None)
                if number is not None:
                    return f"{word} {int(number.value)}"
        return None

    def _moved_to(self) -> str | None:
        fact = next(fact for fact in self.found if fact.kind == "moved")
        clause = next(part for part in self.parts if part.lo <= fact.start < part.hi)
        said = clause.words[fact.start : fact.end]
        return " ".join(said[said.index("to") + 1 :]).removeprefix("the ") if "to" in said else None


def _unit_of(values: dict[str, Any]) -> str | None:
    return cast("str | None", values.get("unit"))


def _plain_site(site: str | None) -> str | None:
    if site is None:
        return None
    words = [
        word for word in site.split() if word not in ("in", "on", "to", "at", "via", "the", "his", "her", "a", "of")
    ]
    return " ".join({"l": "left", "r": "right"}.get(word, word) for word in words)


def _denied(clause: Clause, fact: Found) -> bool:
    return any(clause.words[i] in words_of_care()["denials"] for i in clause.left if i < fact.start)


def _apgar_minute(clause: Clause, fact: Found) -> float | None:
    said = clause.words[clause.lo : clause.hi]
    text = " ".join(said)
    if "five minute" in text or "5 minute" in text or "at five" in text or "at 5" in text:
        return 5
    return 1 if any(way in text for way in ("one minute", "1 minute", "at one", "at 1")) else None


def _place(fact: Found, clause: Clause) -> str:
    return " ".join(clause.words[fact.start : fact.end])


def _group(fact: Found) -> TriageGroup:
    category = fact.values.get("category") or fact.values.get("categories")
    return TriageGroup(cast(Any, category), int(fact.values.get("count", 1)))


def with_patient(commands: Iterable[Spoken], patient: str | None, text: str) -> list[Spoken]:
    """The commands of that patient, each with the words as they were said."""
    found: list[Spoken] = []
    for command in commands:
        if isinstance(command, Vitals | Medication | Procedure | PatientTold):
            command = replace(command, patient=patient, text=text)
        elif isinstance(command, Triage):
            command = replace(command, patient=patient, text=text)
        found.append(command)
    return found
