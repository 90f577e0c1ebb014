"""What a virtual print is made of: machine, its condition, spool, settings, part and room.

Plain values, so that a fault is a change to them and a remedy is another. Units are in the names; a field that
counts a defect is 0 when in order, a share is 1 when whole.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass
class Machine:
    """The printer as built."""

    kinematics: str = "cartesian"
    moving_bed: str = "y"
    extruder: str = "direct"
    enclosed: bool = False
    travel_mm: tuple[float, float, float] = (220.0, 220.0, 250.0)
    nozzle_mm: float = 0.4
    nozzle_material: str = "brass"
    belt_pitch_mm: float = 2.0
    pulley_teeth: float = 20.0
    motor_step_deg: float = 1.8
    screw_lead_mm: float = 8.0
    melt_zone_mm: float = 12.0
    drive_gear_mm: float = 11.0
    bed_surface: str = "textured sheet"
    frame_hz: float = 60.0
    pull_out_accel_mm_s2: float = 12000.0  # at which the motors of a sound machine lose step


@dataclass
class Condition:
    """What is wrong with the machine; all in order as given here."""

    play_mm: float = 0.0
    play_axis: int = 0  # 0 x, 1 y
    skew_deg: float = 0.0
    belt_n: tuple[float, float] = (22.0, 22.0)
    friction: float = 0.0  # share of the motors' pull eaten by tight or dirty guides
    screw_runout_mm: float = 0.0
    frame_loose: float = 0.0
    driver_hot: float = 0.0  # share of the motors' pull lost when warm
    pulley_loose: float = 0.0
    cable_pull: float = 0.0
    head_loose_mm: float = 0.0
    steps_scale: tuple[float, float, float] = (1.0, 1.0, 1.0)
    fan_share: float = 1.0
    cold_side_fan: float = 1.0
    blocked: float = 0.0  # share of the bore's area that is closed
    worn_mm: float = 0.0
    leak: float = 0.0
    grip: float = 1.0  # share of the drive's bite
    crushed: float = 0.0  # idler too tight
    gear_runout: float = 0.0  # share of feed, peak
    sensor_off_c: float = 0.0  # display minus truth
    sensor_jumps: float = 0.0
    swing_c: float = 0.3  # peak to peak
    heater_weak: float = 0.0
    liner: float = 0.0
    bore_error_mm: float = 0.0  # fitted minus set
    bed_swing_k: float = 0.0
    start_gap_mm: float = 0.0  # nozzle too high by so much at the start
    start_scatter_mm: float = 0.0
    tilt_mm: float = 0.02
    grease: float = 0.0
    surface_grip: float = 1.0
    feed_scale: float = 1.0
    lag: float = 0.0  # pressure not made up for at changes of speed
    wire: float = 0.0
    supply_weak: float = 0.0
    ran_dark: float = 0.0
    buckle: float = 0.0  # gap in the strand's guide


@dataclass
class Spool:
    """The filament and how it was kept."""

    polymer: str = "pla"
    true_polymer: str = "pla"
    filler: str | None = None
    opened_days: float = 10.0
    storage_rh: float = 45.0
    dried_days_ago: float | None = None
    dried_hours: float = 6.0
    g_left: float = 700.0
    brittle: float = 0.0
    uneven: float = 0.0  # share of cross-section, standard deviation
    drag: float = 0.0
    tangle: float = 0.0


@dataclass
class Settings:
    """What the file and the machine were told."""

    nozzle_temp_c: float = 210.0
    bed_temp_c: float = 60.0
    fan_percent: float = 100.0
    layer_height_mm: float = 0.2
    first_layer_height_mm: float = 0.2
    line_width_mm: float = 0.45
    speed_mm_s: float = 60.0
    first_layer_speed_mm_s: float = 25.0
    flow_percent: float = 100.0
    retraction_mm: float = 0.8
    z_hop_mm: float = 0.2
    bottom_solid_layers: int = 4
    top_solid_layers: int = 5
    wall_lines: int = 3
    infill_percent: float = 20.0
    support_gap_mm: float = 0.2
    support_on: bool = True
    support_slender: float = 0.0
    brim_mm: float = 0.0
    accel_mm_s2: float = 2000.0
    filament_diameter_mm: float = 1.75
    shrink_allowed: bool = True
    for_other_machine: float = 0.0
    cut_at: float = 1.0  # share of the print that the file holds
    file_shift_mm: tuple[float, float] = (0.0, 0.0)
    outside_mm: float = 0.0


@dataclass
class Part:
    """The shape, as far as faults care."""

    height_mm: float = 40.0
    foot_mm: float = 40.0  # side of a square of the same foothold
    length_mm: float = 60.0
    layer_time_s: float = 25.0
    small_top_s: float = 25.0  # layer time at the smallest section
    overhang: float = 0.2  # share of walls beyond 45°
    bridge_mm: float = 0.0
    needs_support: float = 0.0
    travels: float = 0.5  # gaps to cross, 0 none to 1 many
    retractions: float = 0.3  # crowding of retractions, 0 to 1
    flat_top: float = 0.6
    round_holes: float = 0.6
    fits: float = 0.4  # sizes that matter
    corners: float = 0.7
    thin_wall_mm: float = 2.0
    mesh_open: float = 0.0
    hours: float = 3.0


@dataclass
class Room:
    """Surroundings, and what happened there."""

    room_c: float = 22.0
    room_rh: float = 45.0
    draught: float = 0.0
    power_cut: float = 0.0
    raking_light: float = 0.0
    knock: float = 0.0
    plate_slid: float = 0.0


@dataclass
class World:
    """One virtual print: everything that decides what it shows."""

    machine: Machine = field(default_factory=Machine)
    condition: Condition = field(default_factory=Condition)
    spool: Spool = field(default_factory=Spool)
    settings: Settings = field(default_factory=Settings)
    part: Part = field(default_factory=Part)
    room: Room = field(default_factory=Room)
    luck: float = 1.0  # true melt capacity over the tabled one
    seed: int = 0  # for what chance decides while printing
    shifts: tuple[tuple[float, float], ...] = ()  # sideways steps of what lies above, mm
    turned: bool = False
    history: dict[str, float] = field(default_factory=dict)  # sign -> chance that the sender can tell it
    at: float = 0.4  # where in the print it began, 0 to 1
