"""The medical call by example: what is told is logged, numbered, timed and read back; nothing else is said."""

from __future__ import annotations

from datetime import timedelta

import pytest

from grammar.commands import (
    Arrest,
    Benchmark,
    CareAsked,
    Context,
    Dispatch,
    HandOver,
    Medication,
    PatientTold,
    Procedure,
    Vitals,
)
from grammar.reader import read
from handlers.care import Patient
from handlers.desk import answer
from handlers.incident.board import board
from handlers.incident.record import record
from handlers.medical.elements import patient_elements, patient_rows
from handlers.medical.hand_over import SPOKEN_WORDS, spoken_hand_over
from handlers.medical.ranges import doubts
from handlers.outcome import Outcome, Said
from handlers.rights import is_guest
from tests.handlers.fireground import clock_time, demo_rig
from tests.handlers.playing import Incident, charge


class Call(Incident):
    """A medical call that is spoken: `says("09:05", "bp 150 over 90")` gives the reply."""

    def says(self, when: str, words: str, role: str = "crew") -> str:
        return "\n".join(one.reply for one in self.outcomes(when, words, role))

    def outcomes(self, when: str, words: str, role: str = "crew") -> list[Outcome]:
        care = self.scene.care
        context = Context(
            incident_open=self.scene.open,
            incident_kind=self.scene.kind,
            care=care.active,
            patients=tuple(care.patients),
            trapped=any(patient.told.trapped for patient in care.patients.values()),
            last=self._last.get(role, ((), "", None))[0],
        )
        reading = read(words, context)
        assert reading.commands, (words, reading.declined, reading.question)
        return self.message(when, reading.commands, role)  # type: ignore[arg-type]

    @property
    def patient(self) -> Patient:
        return self.scene.care.patients[self.scene.care.current or "1"]


@pytest.fixture
def call() -> Call:
    made = Call()
    made.at("09:00", Dispatch("chest pain, 4 Pier Road", "chest pain", "4 Pier Road", kind="medical"))
    made.at("09:04", Benchmark("patient_contact"), "crew")
    return made


def test_the_newest_set_stands_beside_the_one_before(call: Call) -> None:
    call.says("09:05", "bp 150 over 90, pulse 96")
    told = call.says("09:10", "130 over 80, pulse 88, 97 percent")
    assert "Before: 09:05 BP 150/90, pulse 96." in told
    assert "Changed since 09:05: BP 150/90 → 130/80, pulse 96 → 88" in call.says("09:11", "vitals", "officer")


def test_a_dose_without_a_unit_is_logged_and_asked(call: Call) -> None:
    (outcome,) = call.outcomes("09:05", "324 of aspirin in, chewed")
    assert outcome.follow_up is not None
    assert outcome.follow_up.text == "aspirin 324: which unit?"
    call.message("09:06", outcome.follow_up.choices[0].commands, "crew")
    assert call.patient.drugs[0].told.unit == "mg"
    assert len(call.patient.drugs) == 1


def test_the_same_drug_again_is_numbered_with_the_time_since(call: Call) -> None:
    call.says("09:05:20", "naloxone 4 mg in the nose")
    told = call.says("09:08:20", "second naloxone, 4 mg in the other side")
    assert "dose 2" in told
    assert "3:00 since the last" in told


def test_what_came_before_us_is_no_dose_of_ours(call: Call) -> None:
    call.says("09:05", "wife gave him two baby aspirin before we got here")
    assert "dose 1" in call.says("09:06", "aspirin 162 mg given")


@pytest.mark.parametrize(
    "words",
    ["drawing up narcan", "do you want another nitro?", "epi's ready", "he refused the aspirin", "no nitro given",
     "doctor says we can give fentanyl 50 mcg", "should we start a line?", "going to intubate", "get the tourniquet"],
)  # fmt: skip
def test_what_is_offered_ordered_denied_or_readied_is_never_logged(call: Call, words: str) -> None:
    context = Context(incident_open=True, incident_kind="medical", care=True)
    for command in read(words, context).commands:
        assert not isinstance(command, Medication | Procedure | Arrest), words


def test_a_first_12_lead_tells_the_time_from_contact(call: Call) -> None:
    told = call.says("09:10:30", "twelve lead's done, ST elevation in two three and aVF")
    assert "First contact to 12-lead: 6:30. Interval only." in told
    assert "reported: st elevation in two three and avf" in told


def test_a_correction_changes_the_value_alone(call: Call) -> None:
    call.says("09:10", "breathing twelve, GCS three four six")
    call.says("09:10:20", "make that respirations ten")
    (taken,) = call.patient.vitals
    assert (taken.told.breaths, taken.told.gcs_motor, taken.at) == (10, 6, clock_time("09:10"))


# --- clocks


def test_vitals_are_due_every_15_minutes_and_5_when_told_unstable(call: Call) -> None:
    call.says("09:05", "bp 150 over 90")
    assert call.times("09:05", "vitals_due")[:2] == ["09:20:00", "09:35:00"]
    call.says("09:06", "patient is unstable")
    assert call.times("09:06", "vitals_due")[:2] == ["09:10:00", "09:15:00"]


def test_pulses_back_starts_vitals_every_5_minutes(call: Call) -> None:
    call.says("09:05", "pulse 30")
    call.at("09:06", Arrest("cpr_started"), "crew")
    call.at("09:16", Arrest("pulses_back"), "crew")
    assert call.times("09:16", "vitals_due")[:2] == ["09:21:00", "09:26:00"]


def test_a_tourniquets_time_is_told_every_30_minutes_until_it_is_off(call: Call) -> None:
    call.says("09:05", "tourniquet on the right leg")
    assert call.times("09:05", "tourniquet")[:2] == ["09:35:00", "10:05:00"]
    assert "on for 10:00" in call.says("09:15", "tourniquet is off")
    assert call.times("09:15", "tourniquet") == []


def test_last_known_well_runs(call: Call) -> None:
    told = call.says("09:05", "last known well 08:15")
    assert "Last known well 08:15 (50 min ago)" in told
    assert "Interval only" in told
    assert call.times("09:05", "last_known_well")[0] == "09:15:00"


def test_apgar_is_told_at_1_and_5_minutes(call: Call) -> None:
    call.says("09:08", "baby's out, it's a boy")
    assert call.times("09:08", "apgar") == ["09:09:00", "09:13:00"]


def test_the_12_leads_clock_runs_for_chest_pain_only(call: Call) -> None:
    assert call.times("09:05", "twelve_lead") == ["09:14:00"]
    call.says("09:06", "12 lead done, normal sinus")
    assert call.times("09:06", "twelve_lead") == []
    other = Call()
    other.at("09:00", Dispatch("fall, 4 Pier Road", "fall", "4 Pier Road", kind="medical"))
    other.at("09:04", Benchmark("patient_contact"), "crew")
    assert other.times("09:05", "twelve_lead") == []


def test_clocks_hold_times_and_counts_and_nothing_of_the_patient(call: Call) -> None:
    for when, words in (
        ("09:05", "62 year old man, chest pain"),
        ("09:06", "bp 150 over 90"),
        ("09:07", "tourniquet on the left arm"),
    ):
        call.says(when, words)
    for one in call.due("09:07"):
        assert not any(word in one.text for word in ("150", "62", "chest", "left arm"))


# --- patients and triage


def test_what_is_said_belongs_to_the_patient_last_spoken_of(call: Call) -> None:
    call.says("09:05", "patient 1, 110 over 70")
    assert call.says("09:06", "patient 2, 35 year old female, alert").startswith("Patient 2: ")
    assert call.says("09:07", "pulse 88").startswith("Patient 2: ")
    assert call.says("09:08", "patient 1, pulse 124").startswith("Patient 1: ")
    assert call.scene.care.patients["1"].vitals[-1].told.pulse == 124


def test_tallies_are_changed_moved_and_gone(call: Call) -> None:
    call.says("09:05", "two reds, four yellows at the bus")
    call.says("09:06", "one of the yellows is a red now")
    told = call.says("09:07", "two reds gone with medic 5")
    assert "Red 1, yellow 3: 4 here, 2 transported; 6 in all." in told
    call.says("09:08", "all patients transported")
    assert (call.scene.care.here, call.scene.care.transported) == (0, 6)


def test_more_gone_than_were_counted_is_asked(call: Call) -> None:
    call.says("09:05", "two reds at the bus")
    (outcome,) = call.outcomes("09:06", "three reds gone with medic 5")
    assert outcome.question is not None
    assert call.scene.care.count("red") == 2


def test_ambulances_are_counted_and_not_ordered(call: Call) -> None:
    call.says("09:05", "need two more ambulances")
    told = call.says("09:06", "need one more ambulance")
    assert "this orders nothing" in told
    assert call.scene.care.wanted == {"ambulances": 3}


# --- hand-over and record


def test_the_hand_over_tells_all_and_what_was_not_reported(call: Call) -> None:
    for when, words in (
        ("09:05", "62 year old man, chest pain for about an hour"), ("09:06", "bp 150 over 90, pulse 96"),
        ("09:07", "aspirin 324 mg chewed"), ("09:09", "130 over 80, pulse 88"), ("09:10", "allergic to penicillin"),
    ):  # fmt: skip
        call.says(when, words)
    told = call.at("09:11", HandOver())
    for part in ("62 years male", "chest pain", "09:06 BP 150/90", "130/80", "09:07 aspirin 324 mg", "penicillin"):
        assert part in told.reply
    assert "Not reported: medicines, respirations, SpO2 and GCS or AVPU." in told.how
    assert len(spoken_hand_over(call.patient, []).split()) <= SPOKEN_WORDS + 4


def test_its_order_is_the_rig_files() -> None:
    call = Call(demo_rig(care='[care]\nhand_over = "SBAR"\n'))
    call.at("09:05", PatientTold(complaint="chest pain"), "crew")
    told = call.at("09:06", HandOver()).how
    assert [line.split(":")[0] for line in told if ":" in line][:4] == [
        "Situation", "Background", "Assessment (as reported)", "Recommendation",
    ]  # fmt: skip
    assert "Recommendation: left to the crew." in told


def test_the_record_has_the_standards_elements(call: Call) -> None:
    call.says("09:05", "62 year old man, bp 150 over 90, pulse 96")
    call.says("09:07", "aspirin 324 mg by mouth")
    made = patient_elements(call.scene, call.patient)
    assert "comply" not in str(made)
    assert "compliant" not in str(made)
    (vitals,) = made["eVitals"]
    values = {one["element"]: one["value"] for one in vitals}
    assert (values["eVitals.06"], values["eVitals.07"], values["eVitals.10"]) == (150, 90, 96)
    drug = {one["element"]: one["value"] for one in made["eMedications"][0]}
    assert (drug["eMedications.03"], drug["eMedications.04"]) == ("aspirin", "Oral")
    assert drug["eMedications.06"] == "Milligrams (mg)"
    assert patient_rows(call.scene, call.patient)[0] == ("group", "element", "name", "value")


# --- who may read it


def reply(call: Call, said: Said) -> str:
    return answer([HandOver()], call.log, call.rig, said).outcomes[0].reply


def test_the_officer_and_who_reported_read_it_and_nobody_else(call: Call) -> None:
    call.says("09:06", "62 year old man, bp 150 over 90")
    officer = Said(at=clock_time("09:07"), who="officer", role="officer")
    reporter = Said(at=clock_time("09:07"), who="crew", role="crew")
    driver = Said(at=clock_time("09:07"), who="driver", role="driver")
    guest = Said(at=clock_time("09:07"), who="medic", role="officer", unit="medic 5", company="engine 12")
    assert is_guest(guest)
    for said, allowed in ((officer, True), (reporter, True), (driver, False), (guest, False)):
        assert ("150/90" in reply(call, said)) is allowed, said
    for said in (officer, reporter):
        group = Said(at=said.at, who=said.who, role=said.role, others_here=True)
        assert "150" not in reply(call, group)
        assert "vitals 1 (last 09:06)" in reply(call, group)


def test_in_a_group_the_reply_to_a_report_is_a_count(call: Call) -> None:
    said = Said(at=clock_time("09:06"), who="crew", role="crew", others_here=True)
    for command in (
        Vitals(systolic=150, diastolic=90, text="150 over 90"), Medication(drug="naloxone", dose=4, unit="mg"),
        Procedure(procedure="iv access", site="left ac"),
        PatientTold(age=62, complaint="chest pain", text="62, chest pain"),
    ):  # fmt: skip
        told = answer([command], call.log, call.rig, said).outcomes[0].reply
        assert not any(word in told for word in ("150", "naloxone", "left", "chest", "62")), told


def test_board_and_incident_record_hold_times_and_counts(call: Call) -> None:
    call.says("09:06", "62 year old man, bp 150 over 90")
    call.says("09:07", "naloxone 4 mg in the nose")
    shown = board(call.scene, call.rig, call.now, None).text
    rows = " ".join(row.text for row in record(call.log.events, call.rig, call.now).rows)
    assert "vitals 1 (last 09:06), drugs 1 (last 09:07)" in shown
    for text in (shown, rows):
        assert not any(word in text for word in ("150", "62 year", "naloxone"))


# --- a fire and a patient at once


def test_a_fire_and_a_patient_run_side_by_side() -> None:
    call = Call()
    call.at("09:00", Dispatch("house fire, 9 Quarry Lane", "house fire", "9 Quarry Lane", kind="fire"))
    call.at("09:03", Benchmark("on_scene"))
    call.at("09:04", charge("crosslay_1"), "driver")
    call.says("09:05", "burns to the whole right arm and the chest and belly")
    call.at("09:06", Arrest("cpr_started"), "crew")
    assert call.scene.kind == "fire"
    names = {one.name for one in call.due("09:06")}
    assert {"rhythm_check", "elapsed", "tank_empty"} <= names
    text = board(call.scene, call.rig, call.now, None).text
    assert "Crosslay 1" in text
    assert "CPR" in text


def test_what_is_asked_is_answered_from_the_log(call: Call) -> None:
    call.says("09:05:40", "aspirin 324 mg in")
    asked = CareAsked("drug", "aspirin", "when")
    assert call.at("09:11", asked).lead == "09:05 aspirin 324 mg."
    assert "5:20 since the last" in call.at("09:11", CareAsked("drug", "aspirin", "since")).lead
    assert call.now - timedelta(minutes=1) == clock_time("09:10")


def test_a_rate_too_slow_for_a_pulse_is_asked_about() -> None:
    assert asked_text(Vitals(pulse=6, text="rate of six")) == "Pulse 6, not breaths a minute? Log it?"
    assert asked_text(Vitals(pulse=6, sure=True)) is None
    assert asked_text(Vitals(pulse=44)) is None


def asked_text(told: Vitals) -> str | None:
    return next((doubt.text for doubt in doubts(told)), None)
