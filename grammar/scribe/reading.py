"""A message about patients as a reading: whether it is one, whose it is, what is taken, asked, or kept as said."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import cast

from msgspec.structs import replace

from grammar.commands import (
    Arrest,
    Benchmark,
    CareAsked,
    Choice,
    Command,
    Context,
    Correction,
    HandOver,
    Medication,
    OxygenTime,
    PatientTold,
    Procedure,
    Question,
    Reading,
    SendReport,
    Triage,
    Vitals,
)
from grammar.describe import several
from grammar.lexicon import sentence
from grammar.numbers import numbers_at
from grammar.scribe.asking import asked, is_question
from grammar.scribe.claiming import claimed
from grammar.scribe.clauses import Clause
from grammar.scribe.matching import MARKS, Found, facts, find, words_of_care
from grammar.scribe.mending import mend, strange
from grammar.scribe.telling import Telling, with_patient
from grammar.text import Token, clean, tokens

SURE = 0.88
NOTED = 0.85

ByItself = Callable[[str], Reading]


def read_care(text: str, context: Context, by_itself: ByItself) -> Reading | None:
    """What a message tells or asks of patients; None where it is about something else."""
    if not facts():
        return None
    spelled = _spelled(text)
    said: list[Token] = list(tokens(spelled))
    mended: tuple[str, ...] = ()
    on_call = context.incident_kind == "medical" or context.care
    shown = on_call or any(fact.kind in words_of_care()["shows_care"] for fact in find(said))
    if shown and words_of_care()["arrest"].isdisjoint(token.text for token in said):
        said, mended = mend(said)  # else "300 fedt" would be a drug
    words = [token.text for token in said]
    found = find(said)
    answer = _answer(words, context)
    if answer is not None:
        return Reading(text, (answer,), SURE, intent=answer.intent)
    if is_question(words, text):
        return _question(text, words, found, by_itself, on_call)
    wanted = next((fact for fact in found if fact.kind == "hand_over"), None)
    if wanted is not None:
        return Reading(text, (HandOver(_numbered(found)),), SURE, intent=HandOver.intent)
    record = next((fact for fact in found if fact.kind == "record"), None)
    if record is not None:
        patient = f"{int(record.values['number'])}" if "number" in record.values else ""
        return Reading(text, (SendReport(record.values.get("form"), patient=patient),), SURE, intent=SendReport.intent)
    if _bare_vitals(words):
        about = asked(words, found, text)
        return Reading(text, (about,), SURE, intent=about.intent) if about is not None else None
    if not claimed(words, found, on_call, context) or _of_a_cylinder(text, words, by_itself):
        return None
    corrected = _corrected(text, words, found, context)
    if corrected is not None:
        return corrected
    reading = _told(_written(said) if mended else spelled, text, context, by_itself, on_call)
    if reading is None:
        return None
    return _as_sure(replace(reading, text=text, assumed=(*reading.assumed, *mended)), said, context)


def _as_sure(reading: Reading, said: Sequence[Token], context: Context) -> Reading:
    """A misspelt number is asked about and never dropped; beside another word that nothing knows it is less sure."""
    counted, others = strange(said)
    if reading.commands and counted:
        asked = Question(sentence("misspelt_number", word=counted[0]))
        return replace(reading, commands=(), question=asked, confidence=NOTED)
    taken = {token.text for fact in find(said) for token in said[fact.start : fact.end]}
    unread = [word for word in others if word not in taken]
    if reading.commands and unread and reading.question is None:
        label = several(reading.commands, context.wording)
        yes = Choice(sentence("yes"), reading.commands)
        asked = Question(sentence("did_you_mean_but", label=label, unread=unread[0]), (yes, Choice(sentence("no"))))
        return replace(reading, commands=(), question=asked, confidence=NOTED)
    return reading


def _of_a_cylinder(text: str, words: Sequence[str], by_itself: ByItself) -> bool:
    """How long an oxygen cylinder lasts: "D cylinder 2000 psi at 15 liters"."""
    named = not words_of_care()["cylinder"].isdisjoint(words)
    return named and any(isinstance(command, OxygenTime) for command in by_itself(text).commands)


def _written(said: Sequence[Token]) -> str:
    """The tokens as a text again."""
    return " ".join(token.text for token in said).replace(" ,", ",").replace(" .", ".").replace(" / ", "/")


def _spelled(text: str) -> str:
    """Routes in capitals, which in small letters are other words: "narcan IN", "IM"."""
    if text == text.upper():
        return text
    text = re.sub(r"\bIN\b", "intranasal", text)
    return re.sub(r"\bIM\b|(?<=mg )im\b|(?<=mcg )im\b|(?<=\d )im\b", "intramuscular", text)


def tells_of_patient(text: str) -> bool:
    """Somebody with an age who isn't of the crew: "74 year old female, fell down the stairs" is no Mayday."""
    if not facts():
        return False
    said = tokens(text)
    found = find(said)
    aged = any(fact.kind == "sexed_age" for fact in found) or {"age", "sex"} <= {fact.kind for fact in found}
    return aged and words_of_care()["of_the_crew"].isdisjoint(token.text for token in said)


def note_of_patient(text: str, context: Context) -> Reading | None:
    """On a call, what is said of a patient and nothing else reads is kept as said: "she's feeling better"."""
    if not facts() or not (context.incident_kind == "medical" or context.care) or context.mayday_open:
        return None
    words = [token.text for token in tokens(text)]
    said, care = {*words}, words_of_care()
    other = care["pump_on_call"] | care["commands"] | care["not_noted"] | care["companies"] | care["arrest"]
    if is_question(words, text) or not said & care["persons"] or said & other or any(strange(tokens(text))):
        return None
    return Reading(text, (PatientTold(text=text.strip()),), NOTED, intent=PatientTold.intent)


def _bare_vitals(words: Sequence[str]) -> bool:
    """ "Vitals", "last vitals", "read me the vitals", "trend": asked, with no number in it."""
    said = [word for word in words if word not in MARKS]
    return bool(said) and bool({"vitals", "trend", "trends"} & {*said}) and len(said) <= 6 and all(
        word in words_of_care()["asks_vitals"]
        for word in said
    )  # fmt: skip


# --- what is asked


def _question(
    text: str, words: Sequence[str], found: Sequence[Found], by_itself: ByItself, on_call: bool
) -> Reading | None:
    if words_of_care()["arrest"] & {*words} - {"chest"} and (
        by_itself(text).commands or {"due", "next", "should"} & {*words}
    ):
        return None
    about = asked(words, found, text)
    if about is not None and words_of_care()["pump"] & {*words} - {"line"}:
        return None
    of_care = any(not fact.fact.weak or fact.kind in ("drug", "procedure") for fact in found)
    if isinstance(about, CareAsked):
        of_care |= about.name in _PLAINLY or (about.about == "patients" and "patients" in words)
        of_care |= about.about == "drug" and bool({"drug", "drugs"} & {*words})
    if about is not None and (on_call or of_care or isinstance(about, HandOver)):
        wants = {"want", "need", "ready", "should", "can", "could", "shall", "another", "give", "push", "more"} & {
            *words
        }
        if isinstance(about, HandOver) or not (
            wants and about.about in ("drug", "procedure") and about.which in (None, "when")
        ):
            return Reading(text, (cast(Command, about),), SURE, intent=about.intent)
    if of_care and (on_call or any(fact.kind == "drug" for fact in found)):
        return Reading(text, confidence=SURE, declined=sentence("question"), intent=_intent(found))
    return None


_PLAINLY = ("glucose", "saturation", "gcs", "breaths", "etco2", "well")
"""Signs that only a patient has."""


def _intent(found: Sequence[Found]) -> str:
    kinds = {fact.kind for fact in found}
    return Medication.intent if "drug" in kinds else Procedure.intent if "procedure" in kinds else Vitals.intent


# --- what is told


def _told(text: str, as_said: str, context: Context, by_itself: ByItself, on_call: bool) -> Reading | None:
    commands: list[Command] = []
    others: list[Command] = []
    assumed: list[str] = []
    questions: list[Question] = []
    declined: list[str] = []
    patient: str | None = None
    segments = _segments(text, context)
    for name, words in segments:
        patient = name or patient
        telling = Telling(tokens(words), find(tokens(words)), words)
        assumed += telling.assumed
        told = with_patient(telling.commands, patient, as_said.strip() if len(segments) == 1 else words.strip(" ,.;"))
        unread = _unread(telling, context, on_call)
        rest, notes = _rest(unread, by_itself, telling, context)
        others += rest
        assumed += notes
        if telling.not_done:
            declined.append(_not_done(telling))
            if not told and on_call and all(how == "denied" for _, how in telling.not_done):
                told = with_patient([PatientTold()], patient, as_said.strip())
        questions += _asks(telling, patient)
        commands += [cast(Command, command) for command in told]
        commands += _transferred(telling)
        if any(fact.kind == "contact" for fact in telling.found) and not telling.denies("contact"):
            others.append(Benchmark("patient_contact"))
    if _only_pulseless(commands) and not any(isinstance(c, Arrest) and c.action == "cpr_started" for c in others):
        return None
    if not commands and not questions and not declined and patient is None:
        return None  # nothing but what the rest of the grammar reads by itself
    contact = list(dict.fromkeys(command for command in others if isinstance(command, Benchmark)))
    behind = [command for command in others if not isinstance(command, Benchmark)]
    commands = [*contact, *commands, *behind]
    if not commands and patient is not None and not questions:
        commands = [PatientTold(patient=patient, text=text.strip())]
    if not commands:
        if questions:
            return Reading(text, confidence=0.6, question=questions[0], intent=Vitals.intent)
        if not declined or (context.group and not context.addressed):
            return None
        return Reading(text, confidence=SURE, declined=declined[0], intent=Medication.intent)
    assumed += [f"not asked further: {question.text}" for question in questions[1:]]
    assumed += declined
    if questions:
        assumed.append(questions[0].text)
    return Reading(text, tuple(commands), SURE, intent=commands[0].intent, assumed=tuple(dict.fromkeys(assumed)))


def _only_pulseless(commands: list[Command]) -> bool:
    """Nothing was told but that there is no pulse: that is the arrest's."""
    return all(isinstance(one, PatientTold) and one == PatientTold(text=one.text) for one in commands) and any(
        isinstance(one, PatientTold) and "no pulse" in (one.text or "").casefold() for one in commands
    )


def _segments(text: str, context: Context) -> list[tuple[str | None, str]]:
    """The message parted where another patient is spoken of: "patient 2 …", "the driver, …"."""
    said = tokens(text)
    found = find(said)
    plain = clean(text)
    cuts: list[tuple[int, str | None]] = [(0, None)]
    first = True
    for k, fact in enumerate(found):
        name = _named(fact)
        begins = fact.start == 0 or said[fact.start - 1].text in MARKS
        if fact.kind == "who" and not (
            begins and (k + 1 < len(found)) and (context.care or context.incident_kind == "medical")
        ):
            known = name is not None and any(name in one or one in name for one in context.patients)
            name = name if known and begins else None
        if (
            fact.kind == "who"
            and name is not None
            and _is_description(name)
            and not any(name in p for p in context.patients)
        ):
            name = None
        if name is None:
            continue
        if first and fact.start <= 3:
            cuts[0] = (0, name)
        else:
            cuts.append((said[fact.start].start, name))
        first = False
    ends = [*(at for at, _ in cuts[1:]), len(plain)]
    return (
        [(name, plain[at:end]) for (at, name), end in zip(cuts, ends, strict=True)]
        if len(cuts) > 1
        else [(cuts[0][1], text)]
    )


def _is_description(name: str) -> bool:
    """ "Old man", "woman in her thirties": says who it is, and names nobody."""
    return name.split()[-1] in ("man", "woman", "guy", "lady", "gentleman") or name in (
        "girl",
        "boy",
        "kid",
        "child",
        "teenager",
    )


def _named(fact: Found) -> str | None:
    if fact.kind == "patient":
        number = fact.values.get("number") or fact.values.get("nth")
        return str(int(number)) if number else None
    if fact.kind == "who":
        words = str(fact.values["who"]).split()
        return " ".join(word for word in words if word not in ("the", "a", "our", "on", "for", "with"))
    return None


def _numbered(found: Sequence[Found]) -> str | None:
    return next(
        (
            f"{int(fact.values['number'])}"
            for fact in found
            if "number" in fact.values and fact.kind in ("patient", "hand_over")
        ),
        None,
    )


def _unread(telling: Telling, context: Context, on_call: bool) -> list[Clause]:
    """Clauses of which nothing was taken, or that the arrest's frames read better, with something said in them."""
    found = []
    for number, clause in enumerate(telling.parts):
        arrest = bool(words_of_care()["arrest"] & {*clause.said})
        aside = (
            words_of_care()["kinds_aside"] | {"site", "route", "finding"} if arrest else words_of_care()["kinds_aside"]
        )
        taken = [fact for fact in clause.facts if fact.kind not in aside]
        if number in telling.unclaimed or (not taken and clause.unread):
            found.append(clause)
    return found


def _rest(
    unread: list[Clause], by_itself: ByItself, telling: Telling, context: Context
) -> tuple[list[Command], list[str]]:
    """What the clauses that tell nothing of a patient say by themselves; else they are kept as said."""
    taken: list[Command] = []
    notes: list[str] = []
    for clause in unread:
        words = " ".join(clause.said)
        if set(clause.left) & telling.numbers_used and not clause.facts:
            continue
        reading = by_itself(words)
        if (
            reading.commands
            and reading.confidence >= 0.8
            and not any(isinstance(c, _NOT_BESIDE) for c in reading.commands)
        ):
            taken += reading.commands
            notes += reading.assumed
        elif reading.question is not None and reading.intent in _ASKED_APART:
            notes.append(f"not taken: “{words}”: say it by itself")
    return taken, notes


_NOT_BESIDE = (Vitals, Medication, Procedure, PatientTold, Triage)
_ASKED_APART = frozenset(("mayday", "benchmark", "exit", "entry", "par", "arrest", "evacuate", "emergency"))


def _not_done(telling: Telling) -> str:
    name, how = telling.not_done[0]
    why = "that says it was not done" if how == "denied" else "that is still to come or an order"
    return f"{name[:1].upper()}{name[1:]} not logged: {why}; say it when it is done."


def _asks(telling: Telling, patient: str | None) -> list[Question]:
    asked_of = []
    for value in telling.unplaced:
        choices = tuple(
            Choice(f"{label} {value:g}", (replace(Vitals(patient=patient, text=telling.text), **{field: value}),))
            for label, field in (("pulse", "pulse"), ("respirations", "breaths"), ("saturation", "saturation"))
        )
        asked_of.append(Question(f"{value:g}: what is that?", choices))
    for drug in telling.doubtful:
        given = Medication(patient=patient, drug=drug, text=telling.text)
        asked_of.append(Question(f"Was {drug} given?", (Choice("yes, given", (given,)), Choice("no"))))
    return asked_of


def _transferred(telling: Telling) -> list[Command]:
    fact = next((one for one in telling.found if one.kind == "transferred"), None)
    if fact is None or any(isinstance(command, Triage) and command.groups for command in telling.commands):
        return []
    return [Benchmark("care_transferred", unit=fact.values.get("unit"))]


# --- corrections and answers


def _corrected(text: str, words: Sequence[str], found: Sequence[Found], context: Context) -> Reading | None:
    """ "Make that respirations ten": the speaker's last set, drug or procedure with what is said in its place."""
    said = " ".join(word for word in words if word not in MARKS)
    lead = next((lead for lead in words_of_care()["corrects"] if said.startswith(f"{lead} ")), None)
    if lead is None or not context.last:
        return None
    telling = Telling(tokens(text), found, text)
    for new in telling.commands:
        for old in reversed(context.last):
            if type(old) is type(new) and isinstance(old, Vitals | Medication | Procedure | PatientTold):
                changes = {
                    name: value
                    for name in new.__struct_fields__
                    if (value := getattr(new, name)) not in (None, (), False, "")
                    and name not in ("text", "patient", "age_unit")
                }
                amended = replace(old, **changes)
                return Reading(text, (Correction((amended,)),), SURE, intent=Correction.intent)
    return None


def _answer(words: Sequence[str], context: Context) -> Command | None:
    """A number said to a question about one vital sign, or a unit to one about a dose; also a corrected dose."""
    said = [word for word in words if word not in MARKS]
    fills = context.asked.fills if context.asked is not None else None
    slot = context.asked.slot if context.asked is not None else None
    if isinstance(fills, Vitals) and slot is not None and said and len(said) <= 6:
        start = next((i for i, word in enumerate(said) if numbers_at(said, i)), None)
        if start is not None:
            best = max(numbers_at(said, start), key=lambda n: (n.end, -n.cost))
            known = {
                slot.replace("_", " "),
                "it",
                "its",
                "is",
                "pulse",
                "sat",
                "sats",
                "pressure",
                "resps",
                "that",
                "was",
                "sorry",
                "no",
            }
            if best.end == len(said) and all(word in known for word in said[:start]):
                return replace(fills, **{slot: best.value})
    last = context.last[-1] if context.last else None
    lead = next((lead for lead in words_of_care()["corrects"] if " ".join(said).startswith(f"{lead} ")), None)
    if isinstance(last, Medication | Vitals) and lead is not None:
        rest = said[len(lead.split()) :]
        numbers = [n for n in numbers_at(rest, 0) if n.end == len(rest)] if rest else []
        if numbers:
            value = min(numbers, key=lambda n: n.cost).value
            if isinstance(last, Medication) and last.dose is not None:
                return Correction((replace(last, dose=value),))
            if isinstance(last, Vitals):
                only = [name for name in _NUMBERS if getattr(last, name) is not None]
                if len(only) == 1:
                    return Correction((replace(last, **{only[0]: value}),))
    return None


_NUMBERS = ("systolic", "diastolic", "pulse", "saturation", "breaths", "etco2", "glucose", "temperature", "pain", "gcs")
