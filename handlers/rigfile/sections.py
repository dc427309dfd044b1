"""The settings of a rig: one struct for each table of the rig file, every field a number with its unit in the name."""

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

Positive = Annotated[float, Meta(gt=0)]
NonNegative = Annotated[float, Meta(ge=0)]
Share = Annotated[float, Meta(gt=0, le=1)]


class Struct(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Base of every part of the rig: frozen, by keyword, a misspelt key is an error."""


class Hydraulics(Struct, frozen=True):
    """Working values of the pump panel: constants, nozzle pressures, losses."""

    smooth_constant: Positive
    reaction_smooth: Positive
    reaction_fog: Positive
    fog_psi: Positive
    smooth_hand_psi: Positive
    smooth_master_psi: Positive
    tips_in: tuple[Positive, ...]
    tip_shortfall: NonNegative  # a tip may fall short of the wanted flow by this share
    elevation_psi_per_floor: NonNegative
    elevation_psi_per_ft: NonNegative
    credit_below: bool  # false: a nozzle below the pump earns no pressure back
    appliance_threshold_gpm: Positive
    appliance_psi: NonNegative
    master_stream_psi: NonNegative
    aerial_psi: NonNegative
    sprinkler_psi: Positive
    eductor_inlet_psi: Positive
    eductor_back_share: Share
    residual_psi: NonNegative


class Standpipe(Struct, frozen=True):
    """How a standpipe is pumped: a loss for the system, or the riser's own friction, or a house rule."""

    system_psi: NonNegative
    riser_friction: bool
    riser_in: Positive
    riser_coefficient: dict[str, Positive]  # by nominal pipe size, "6" = 6 in
    floor_height_ft: Positive
    house_base_psi: Positive | None = None  # with house_psi_per_floor: base + that × (floor − 1), nothing else
    house_psi_per_floor: NonNegative | None = None


class Limits(Struct, frozen=True):
    """Where an answer gets a caution."""

    velocity_ft_s: Positive
    reaction_lbf: tuple[Positive, ...]  # one person on the line, two, three …
    people_on_line: Annotated[int, Meta(ge=1)]


class DropBand(Struct, frozen=True):
    """Up to this percent drop, so many more of the flow already drawn."""

    up_to_percent: NonNegative
    more: Annotated[int, Meta(ge=0)]


class HydrantClass(Struct, frozen=True):
    """A hydrant's class by its flow at the rating residual."""

    at_least_gpm: NonNegative
    name: str
    colour: str


class HydrantSection(Struct, frozen=True):
    """Judging a hydrant by its gauges."""

    pitot_constant: Positive
    outlet_coefficient: Share
    outlet_coefficients: dict[str, Share]  # "rounded", "square", "projecting"
    outlet_in: Positive
    exponent: Share
    residual_psi: NonNegative
    low_intake_psi: NonNegative
    drop_bands: tuple[DropBand, ...]
    classes: tuple[HydrantClass, ...]


class Rural(Struct, frozen=True):
    """Water where there are no hydrants: tender shuttle and minimum supply."""

    usable_share: Share
    travel_base_min: NonNegative
    travel_min_per_mile: Positive
    tender_gal: Positive
    fill_gpm: Positive
    dump_gpm: Positive
    handling_min: NonNegative
    portable_tank_gal: Positive
    minimum_gal: NonNegative
    minimum_exposed_gal: NonNegative
    exposure_factor: Positive
    construction_number: dict[str, Positive]  # by construction class, "1" = frame


class Drafting(Struct, frozen=True):
    """Lift from a static source."""

    attainable_share: Share
    rated_lift_ft: Positive
    pump_vacuum_inhg: Positive  # what the pump can draw at sea level
    suction_in: Positive
    suction_ft: Positive
    strainer_ft: NonNegative  # entrance and strainer, in feet of head
    altitude_ft: float
    water_f: float


class FireFlow(Struct, frozen=True):
    """Needed fire flow."""

    method: Literal["area_third", "volume_hundredth", "iso"]
    exposure_share: NonNegative
    ceiling_ft: Positive
    construction_factor: dict[str, Positive]


class Intervals(Struct, frozen=True):
    """Every clock and reminder of an incident. Minutes, or seconds where the name says so."""

    elapsed_min: Positive
    control_check_min: Positive
    par_min: Positive
    par_missing_min: Positive
    supply_missing_min: Positive
    rit_missing_min: Positive
    mayday_clock_min: Positive
    rhythm_check_min: Positive
    epi_from_min: Positive
    epi_to_min: Positive
    reassess_min: Positive  # vital signs again
    reassess_unstable_min: Positive  # … of a patient who was told to be unstable, or whose pulses are back
    twelve_lead_min: Positive  # first contact to 12-lead, for the complaints of care.twelve_lead_for
    scene_time_min: Positive  # time on the scene of a medical run
    well_min: Positive  # last known well
    tourniquet_min: Positive
    snooze_min: Positive
    quiet_gap_s: NonNegative  # one routine notice a room in this time
    tank_half_share: Share
    tank_quarter_share: Share
    tank_minute_s: Positive
    tank_skip_under_s: NonNegative  # half and quarter are left out when less remains
    turnout_s: Positive
    travel_s: Positive


class Cylinder(Struct, frozen=True):
    """A breathing-air cylinder: full pressure, rated minutes, free air it holds, pressure of its low-air alarm."""

    pressure_psi: Positive
    rated_min: Positive
    air_l: Positive
    alarm_psi: Positive


class Air(Struct, frozen=True):
    """Breathing air. The first cylinder is the rig's own; the others are known by their full pressure."""

    cylinders: tuple[Cylinder, ...]
    rates_lpm: tuple[Positive, ...]
    turnaround_round_psi: Positive  # turnaround is rounded up to this


class Oxygen(Struct, frozen=True):
    """Medical oxygen: litres a psi by cylinder letter, and the pressure at which to change it."""

    factors: dict[str, Positive]
    change_below_psi: NonNegative


class Care(Struct, frozen=True):
    """The medical call: in which order a hand-over is told, and when a 12-lead's clock is told."""

    hand_over: Literal["MIST", "SBAR", "IMIST-AMBO"]
    twelve_lead_for: tuple[str, ...]  # complaints whose clock from first contact to 12-lead is told


class RehabSection(Struct, frozen=True):
    """When a crew is due for rest."""

    cylinders_30: Annotated[int, Meta(ge=1)]
    cylinders_45: Annotated[int, Meta(ge=1)]
    work_min: Positive
    rest_min: Positive
