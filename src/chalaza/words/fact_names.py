"""Names of the figures held about a kind of bird: the quantities and conditions of the tables of facts, in words."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from chalaza.words.language import mark


@dataclass(frozen=True, slots=True)
class Name:
    """A quantity in words; `style` is one of `numbers.STYLES`, or empty for a plain number with its unit."""

    words: str
    style: str = ""


#: Quantities of kind_values.csv and the loss targets.
WANTED: Mapping[str, Name] = MappingProxyType(
    {
        "egg_mass": Name(mark("mass of an egg"), "mass"),
        "egg_length": Name(mark("length of an egg"), "length"),
        "egg_breadth": Name(mark("breadth of an egg"), "length"),
        "term": Name(mark("term, from setting to hatch"), "days"),
        "stop_turning": Name(mark("age when turning stops"), "days"),
        "temp_forced": Name(mark("temperature with a fan"), "temperature"),
        "temp_still_egg_top": Name(mark("temperature in still air, at the egg tops"), "temperature"),
        "temp_hatch_forced": Name(mark("temperature in the last days, with a fan"), "temperature"),
        "rh_setting": Name(mark("humidity until the last days"), "share"),
        "rh_hatching": Name(mark("humidity in the last days"), "share"),
        "turns": Name(mark("turns a day")),
        "internal_pip": Name(mark("internal pip, before the hatch"), "hours"),
        "external_pip": Name(mark("external pip, before the hatch"), "hours"),
        "candle_first": Name(mark("age at the first candling"), "days"),
        "candle_second": Name(mark("age at the second candling"), "days"),
        "candle_last": Name(mark("age at the last candling"), "days"),
        "loss_target": Name(mark("loss wanted"), "loss"),
    }
)

#: Matters of advice_ranges.csv, and the losses in the literature.
PUBLISHED: Mapping[str, Name] = MappingProxyType(
    {
        "rh_setting": Name(mark("humidity until the last days"), "share"),
        "rh_hatching": Name(mark("humidity in the last days"), "share"),
        "loss": Name(mark("loss"), "loss"),
        "loss_literature": Name(mark("loss, as measured"), "loss"),
        "temp_fan": Name(mark("temperature with a fan"), "temperature"),
        "temp_still": Name(mark("temperature in still air"), "temperature"),
        "spike_40.6": Name(mark("air at 40.6 °C: how long until it is serious"), "minutes"),
        "stop_turning": Name(mark("age when turning stops"), "days"),
        "wait": Name(mark("how long to wait for late eggs"), "days"),
        "store": Name(mark("days in store"), "days"),
        "store_longest": Name(mark("days in store, at most"), "days"),
        "turns": Name(mark("turns a day")),
        "help": Name(mark("after the external pip, before anyone helps"), "hours"),
    }
)

#: Quantities of priors.csv: what is believed before a batch shows anything.
BELIEVED: Mapping[str, Name] = MappingProxyType(
    {
        "conductance": Name(mark("conductance of the shells, mean of a batch")),
        "conductance_batch_spread": Name(mark("conductance from batch to batch, same parents"), "share"),
        "conductance_season_rise": Name(mark("rise of the conductance with the parents' age, logarithm")),
        "conductance_cv": Name(mark("conductance from egg to egg"), "share"),
        "conductance_mass_exponent": Name(mark("conductance against egg mass, exponent")),
        "conductance_rise": Name(mark("rise of the conductance while the egg is warm"), "share"),
        "leaky_share": Name(mark("share of leaky shells"), "share"),
        "leaky_factor": Name(mark("conductance of a leaky shell against the others")),
        "native_altitude": Name(mark("how far eggs follow the altitude they were laid at")),
        "scale_rounding": Name(mark("rounding of a scale, in steps")),
        "scale_zero": Name(mark("zero of a scale, in steps")),
        "scale_span": Name(mark("span of a scale")),
        "air_cell_reading": Name(mark("doubt of one mark of an air cell"), "length"),
        "air_cell_offset": Name(mark("offset of air-cell marks"), "length"),
        "air_cell_slope": Name(mark("slope of air-cell marks")),
        "air_cell_start_ml": Name(mark("air cell of a fresh egg")),
        "temp_offset": Name(mark("offset of a thermometer"), "change"),
        "temp_gain": Name(mark("gain of a thermometer")),
        "temp_drift": Name(mark("drift of a thermometer")),
        "rh_offset": Name(mark("offset of a hygrometer"), "points"),
        "rh_saturation": Name(mark("offset of a hygrometer after days of damp"), "points"),
        "rh_drift": Name(mark("drift of a hygrometer")),
        "placement": Name(mark("air at the eggs less air at the probe"), "change"),
        "position_spread": Name(mark("temperature from place to place in the tray"), "step"),
        "logger_clock": Name(mark("clock of a logger"), "hours_signed"),
        "heat_conductance": Name(mark("heat from egg to air")),
        "heat_scale": Name(mark("heat of the embryo against the table")),
        "egg_heat_capacity": Name(mark("heat capacity of an egg")),
        "time_constant": Name(mark("how slowly an egg follows the air"), "minutes"),
        "rate_slope": Name(mark("pace of growth, per degree")),
        "rate_slope_above": Name(mark("pace above the normal warmth against below it")),
        "rate_age_first": Name(mark("pace per degree, first third")),
        "rate_age_second": Name(mark("pace per degree, second third")),
        "rate_age_last": Name(mark("pace per degree, last third")),
        "rate_34": Name(mark("pace at 34 °C"), "share"),
        "rate_30": Name(mark("pace at 30 °C"), "share"),
        "rate_zero": Name(mark("no growth below"), "temperature"),
        "chill_delay": Name(mark("delay by an hour of chill")),
        "chill_survival": Name(mark("survival of a chill below 27 °C"), "share"),
        "hatch_hours": Name(mark("setting to hatch at the normal warmth"), "hours"),
        "hatch_spread": Name(mark("spread of the hatch, one standard deviation"), "hours"),
        "storage_delay": Name(mark("delay by a day in store")),
        "size_delay": Name(mark("delay by a gram of egg")),
        "male_delay": Name(mark("males after females"), "hours_signed"),
        "male_share": Name(mark("share of males"), "share"),
        "internal_pip": Name(mark("internal pip, before the hatch"), "hours"),
        "external_pip": Name(mark("external pip, before the hatch"), "hours"),
        "fertility": Name(mark("fertility"), "share"),
        "survival_early": Name(mark("survival, first third"), "share"),
        "survival_middle": Name(mark("survival, second third"), "share"),
        "survival_late": Name(mark("survival, last third"), "share"),
        "fate_correlation": Name(mark("how far the eggs of a batch share their fate")),
        "hen_correlation": Name(mark("how far the eggs of a hen share their fate")),
        "loss_penalty": Name(mark("loss off the target that costs life, width"), "loss"),
        "egg_loss_band": Name(mark("band for one egg, times the target")),
        "heat_halving": Name(mark("hours at 43.3 °C that halve survival"), "hours"),
        "heat_doubling": Name(mark("step of heat that doubles the harm"), "step"),
        "heat_sustained": Name(mark("shell temperature that harms over days"), "temperature"),
        "turning_survival": Name(mark("hatch against 24 turns a day"), "share"),
        "turning_end": Name(mark("hatch when turning stops early"), "share"),
        "candling_alive": Name(mark("what the lamp shows of a live egg"), "share"),
        "candling_dead": Name(mark("what the lamp shows of a dead egg"), "share"),
        "candling_infertile": Name(mark("what the lamp shows of an infertile egg"), "share"),
        "air_exchange": Name(mark("changes of air")),
        "air_exchange_ratio": Name(mark("changes of air, open against half open")),
        "trough_coefficient": Name(mark("water from a trough")),
        "moisture_store": Name(mark("moisture held by the box, times that of its air")),
        "room_vapour": Name(mark("vapour pressure of the room")),
        "box_heat_loss": Name(mark("heat lost by a box")),
        "box_heat_capacity": Name(mark("heat capacity of a box")),
        "heater_power": Name(mark("power of a heater")),
        "control_dead_time": Name(mark("dead time of a thermostat")),
        "correlation": Name(mark("correlation of two beliefs")),
    }
)

#: Conditions of priors.csv.
CONDITIONS: Mapping[str, str] = MappingProxyType(
    {
        "young": mark("young parents"), "old": mark("old parents"), "white": mark("white shell"), "dark": mark("dark shell"),
        "display": mark("display, unchecked"), "digital": mark("digital probe, unchecked"), "glass": mark("glass, unchecked"),
        "ice": mark("checked in ice"), "ice_boil": mark("checked in ice and at the boil"),
        "compare": mark("compared near 37.5 °C"), "infrared": mark("infra-red"), "salt_one": mark("checked over one salt"),
        "salt_two": mark("checked over two salts"), "dry_box": mark("checked in a dry box"), "wick_fan": mark("wick, with a fan"),
        "wick_still": mark("wick, still air"), "fan": mark("with a fan"), "fan_mapped": mark("with a fan, box mapped"),
        "still": mark("still air"), "still_egg_top": mark("still air, level with the egg tops"),
        "still_unknown": mark("still air, height unknown"), "confirmed": mark("zone confirmed"),
        "within_batch": mark("within a batch"), "own": mark("own eggs"), "posted": mark("posted eggs"),
        "d3": mark("day 3 of a hen's egg"), "d7": mark("day 7 of a hen's egg"), "d11": mark("day 11 of a hen's egg"),
        "d16": mark("day 16 of a hen's egg"), "d19": mark("day 19 of a hen's egg"), "h12": mark("up to 12 h"),
        "h24": mark("up to 24 h"), "h36": mark("up to 36 h"), "h48": mark("up to 48 h"), "h72": mark("up to 72 h"),
        "per_d3": mark("3 turns a day"), "per_d6": mark("6 turns a day"), "per_d12": mark("12 turns a day"),
        "light_d6": mark("light shell, day 6"), "light_d7": mark("light shell, day 7"), "light_d14": mark("light shell, day 14"),
        "dark_d7": mark("dark shell, day 7"), "dark_d10": mark("dark shell, day 10"), "dark_d14": mark("dark shell, day 14"),
        "any_d18": mark("any shell, day 18"), "fan_closed": mark("with a fan, vents closed"),
        "fan_half": mark("with a fan, vents half open"), "fan_open": mark("with a fan, vents open"),
        "still_closed": mark("still air, vents closed"), "still_open": mark("still air, vents open"),
        "plastic": mark("plastic"), "wood": mark("wood"), "open_to_half": mark("open to half open"),
        "temp_offset_rh_offset": mark("offset of thermometer and hygrometer"),
        "air_cell_offset_slope": mark("offset and slope of air-cell marks"),
        "internal_pip_external_pip": mark("internal and external pip"),
        "conductance_batches": mark("conductance, batch to batch"), "placement_batches": mark("placement, batch to batch"),
        "hatch_hours_batches": mark("hours to hatch, batch to batch"), "air_exchange_vents": mark("changes of air, vent to vent"),
        "fertility_survival_early": mark("fertility and early survival"),
        "survival_early_survival_late_posted": mark("early and late survival, posted eggs"),
        "heat_conductance_placement": mark("heat from egg to air, and placement"),
    }
)  # fmt: skip

#: Topics of kind_notes.csv.
TOPICS: Mapping[str, str] = MappingProxyType(
    {
        "cooling": mark("cooling"),
        "ventilation": mark("air"),
        "shell": mark("shell"),
        "law": mark("law"),
        "young": mark("young"),
    }
)
