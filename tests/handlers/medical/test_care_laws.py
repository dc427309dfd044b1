"""Laws of the medical call: order changes nothing, nothing out of range gets in, nothing is told to be done."""

from __future__ import annotations

import os
import re
from datetime import timedelta
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grammar.commands import (
    Arrest,
    CareAsked,
    Command,
    Context,
    HandOver,
    Medication,
    PatientTold,
    Procedure,
    SaidTime,
    Triage,
    TriageGroup,
    Undo,
    Vitals,
)
from grammar.reader import read
from handlers.care import CATEGORIES
from handlers.medical.ranges import SIGNS, SLOWEST
from tests.handlers.fireground import DAY
from tests.handlers.playing import Incident
from tests.handlers.test_never_said import FORBIDDEN, texts

FULL = os.environ.get("CROSSLAY_LAWS") == "full"
ON_CALL = Context(incident_open=True, incident_kind="medical")
PARTS = ("bp 150 over 90", "pulse 96", "sat 94", "resps 20", "sugar 42", "temp 38.4", "pain seven", "GCS 3 4 5")
WHOLE = {
    "systolic": 150, "diastolic": 90, "pulse": 96, "saturation": 94, "breaths": 20, "glucose": 42, "temperature": 38.4,
    "pain": 7, "gcs_eye": 3, "gcs_verbal": 4, "gcs_motor": 5,
}  # fmt: skip


def said(words: str) -> dict[str, float]:
    """The numbers of the one set that the words are read as."""
    reading = read(words, ON_CALL)
    (told,) = reading.commands
    assert isinstance(told, Vitals), words
    return {name: value for name in WHOLE if (value := getattr(told, name)) is not None}


ORDERS = list(permutations(range(len(PARTS)))) if FULL else list(permutations(range(len(PARTS))))[:: 40320 // 60]


@pytest.mark.parametrize("joint", [", ", " and ", ". "])
def test_vitals_in_any_order_are_the_same_set(joint: str) -> None:
    for order in ORDERS:
        assert said(joint.join(PARTS[i] for i in order)) == WHOLE


@pytest.mark.parametrize("count", [1, 2, 3])
def test_any_mix_of_them_is_that_mix(count: int) -> None:
    for mix in list(permutations(range(len(PARTS)), count))[:: 1 if FULL else 5]:
        expected: dict[str, float] = {}
        for i in mix:
            expected |= said(PARTS[i])
        assert said(", ".join(PARTS[i] for i in mix)) == expected


# --- ranges

OUTSIDE = st.one_of(st.integers(-5, 2500), st.sampled_from([501, 960, 140, 101, 17, 12, 385]))


@settings(max_examples=400 if FULL else 60, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from([sign.field for sign in SIGNS]), OUTSIDE, st.booleans()), min_size=1, max_size=5)
)
def test_nothing_out_of_range_gets_into_the_record(values: list[tuple[str, int, bool]]) -> None:
    call = Incident()
    for field, value, sure in values:
        outcome = call.at(call.now + timedelta(minutes=20), Vitals(**{field: float(value), "sure": sure}))  # type: ignore[arg-type]
        sign = next(sign for sign in SIGNS if sign.field == field)
        asked = outcome.question or outcome.follow_up
        slow = field == "pulse" and 0 < value < SLOWEST and not sure
        assert (asked is None) or slow or not sign.low <= value <= sign.high
    for patient in call.scene.care.patients.values():
        for taken in patient.vitals:
            for sign in SIGNS:
                kept = getattr(taken.told, sign.field)
                assert kept is None or sign.low <= kept <= sign.high


@pytest.mark.parametrize(
    ("words", "asked"),
    [("pulse 960", "960"), ("bp 90 over 150", "90 over 150"), ("sat 150", "150"), ("pain 12", "12"), ("GCS 17", "17")],
)
def test_what_cannot_be_is_asked_and_not_logged(words: str, asked: str) -> None:
    call = Incident()
    reading = read(words, ON_CALL)
    (outcome,) = call.message("09:00", reading.commands)
    assert outcome.question is not None
    assert asked in outcome.question.text
    assert not call.scene.care.patients


def test_the_rest_of_a_set_is_logged_and_the_doubtful_value_asked() -> None:
    call = Incident()
    (outcome,) = call.message("09:00", read("bp 150 over 90, pulse 960", ON_CALL).commands)
    assert outcome.follow_up is not None
    taken = call.scene.care.patients["1"].vitals[0].told
    assert (taken.systolic, taken.diastolic, taken.pulse) == (150, 90, None)


# --- never told to be done

TREATS = re.compile(
    r"\bgive\b|\bshould (get|have|be)\b|\bneeds? (a|an|the|to)\b|\badminister\b|\bdiagnos|\bconsider\b|\bindicated\b"
    r"|\brecommended\b|\bis (having|in) (a|shock)|\b(looks|seems) (normal|stable|bad)|\bwithin normal\b",
    re.IGNORECASE,
)
PATIENTS = st.sampled_from([None, "1", "2", "driver"])
COMMANDS: st.SearchStrategy[Command] = st.one_of(
    st.builds(
        Vitals,
        patient=PATIENTS,
        systolic=st.sampled_from([None, 40, 90, 150, 240]),
        diastolic=st.sampled_from([None, 20, 60, 90]),
        pulse=st.sampled_from([None, 0, 30, 96, 180]),
        saturation=st.sampled_from([None, 60, 94]),
        glucose=st.sampled_from([None, 20, 400]),
        temperature=st.sampled_from([None, 30.0, 41.0]),
        avpu=st.sampled_from([None, "alert", "unresponsive"]),
        face=st.sampled_from([None, "abnormal"]),
        burns=st.sampled_from([(), ("both arms",), ("face",)]),
    ),
    st.builds(
        Medication,
        patient=PATIENTS,
        drug=st.sampled_from(["aspirin", "naloxone", "epinephrine"]),
        dose=st.sampled_from([None, 0.4, 324.0]),
        unit=st.sampled_from([None, "mg"]),
        route=st.sampled_from([None, "IV", "IM"]),
        nth=st.sampled_from([None, 2]),
    ),
    st.builds(
        Procedure,
        patient=PATIENTS,
        procedure=st.sampled_from(["iv access", "tourniquet", "12-lead ECG", "oxygen"]),
        ended=st.booleans(),
        tries=st.sampled_from([None, 1, 12]),
    ),
    st.builds(
        PatientTold,
        patient=PATIENTS,
        age=st.sampled_from([None, 3, 62]),
        complaint=st.sampled_from([None, "chest pain"]),
        well_s=st.sampled_from([None, 3600.0]),
        born=st.booleans(),
        unstable=st.sampled_from([None, True]),
        disposition=st.sampled_from([None, "refused"]),
    ),
    st.builds(
        Triage,
        st.sampled_from(["started", "counted", "changed", "transported", "wanted"]),
        st.lists(st.builds(TriageGroup, st.sampled_from(CATEGORIES), st.integers(1, 4)), max_size=2).map(tuple),
        to_category=st.sampled_from(["red", "yellow"]),
    ),
    st.builds(
        Arrest, st.sampled_from(["cpr_started", "cpr_paused", "shock", "epinephrine", "pulses_back", "cpr_stopped"])
    ),
    st.builds(
        CareAsked,
        st.sampled_from(["vitals", "drug", "procedure", "patients", "history", "arrest", "clocks"]),
        which=st.sampled_from([None, "first", "last", "trend", "when", "count", "since"]),
    ),
    st.sampled_from([HandOver(), Undo()]),
)


@settings(max_examples=600 if FULL else 80, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 900), COMMANDS, st.sampled_from(["officer", "crew"])), max_size=12))
def test_no_sequence_makes_it_say_what_to_do(steps: list[tuple[int, Command, str]]) -> None:
    call, now = Incident(), DAY
    for wait_s, command, role in steps:
        now += timedelta(seconds=wait_s)
        outcome = call.at(now, command, role)  # type: ignore[arg-type]
        due = call.due(now)
        for text in [*texts(outcome), *(text for one in due for text in (one.text, one.spoken))]:
            assert not FORBIDDEN.search(text), text
            assert not TREATS.search(text), text
            assert "None" not in text, text
        for one in due:
            if one.name in ("vitals_due", "last_known_well", "tourniquet", "apgar", "scene_time", "twelve_lead"):
                assert "Interval only" in one.text


def test_the_pattern_finds_what_it_must() -> None:
    for text in (
        "Give 324 mg",
        "he should get aspirin",
        "needs a tourniquet",
        "BP within normal limits",
        "consider a line",
    ):
        assert TREATS.search(text), text


def test_a_stated_past_time_is_where_a_dose_counts_from() -> None:
    call = Incident()
    call.at("09:10", Medication(drug="aspirin", dose=324, unit="mg", time=SaidTime(ago_s=120)))
    assert call.scene.care.patients["1"].drugs[0].at == call.now - timedelta(minutes=2)
