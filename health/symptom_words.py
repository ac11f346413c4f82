"""What each symptom means in words: the pattern, what it usually is, and what to look at next.

The station's own list of patterns; common practice, no source. The signs that they are read from
stand in ``health/rules/symptom_table.py``.
"""

from dataclasses import dataclass
from enum import Enum

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from health.rules.symptom_table import ROWS


class Hazard(Enum):
    """What hurts people there, beside what is always so inside a set."""

    X_RAYS = _("X-rays above some 10 to 15 kV, and from a gassy tube: keep the shields on.")
    HOT_WATER = _(
        "Hot water and steam, hoses under pressure: let it cool before anything is opened."
    )
    RF_BURN = _("RF burns at the feeder: all power off, and the field off, before it is touched.")
    CHARGE = _("Capacitors keep their charge: discharge and earth each of them.")
    BERYLLIUM = _("Beryllium oxide ceramic: never break, grind or scratch it.")
    MERCURY = _("Mercury rectifiers: a broken one is a spill of mercury, ventilate and keep away.")
    PCB = _("Old capacitors may hold PCB: no leak is touched with bare hands.")


@dataclass(frozen=True)
class SymptomText:
    """``causes``: the likeliest first; ``check``: what to look at next."""

    pattern: Promise
    causes: Promise
    check: Promise
    hazards: tuple[Hazard, ...] = ()


# fmt: off
TEXTS: dict[str, SymptomText] = {
    "S1": SymptomText(
        _("HT down and all that goes with it by the same share; power down by twice that"),
        _("mains low, a lower power tap, the HT regulator, or a power that was not written"),
        _("Read the mains voltage; look at tap and power selector; listen for hum.")),
    "S2": SymptomText(
        _("HT a little down, hum up, rectifier or mains phases unequal"),
        _("a lost phase, a failed rectifier arm or its fuse"),
        _("Compare the phase currents and look at the fuses; reduce power or stop."),
        (Hazard.CHARGE, Hazard.MERCURY)),
    "S3": SymptomText(
        _("Both anode currents up for the same output, grid currents down, more heat in the water"),
        _("anode tank off resonance, or coupled too tightly"),
        _("Compare the tune dial with the record of this wave; at low power look for the dip.")),
    "S4": SymptomText(
        _("Both anode currents down and grid currents up, or more coupling needed for the same power"),
        _("loading too light: coupling dial, impedance of the antenna, an open feeder; RF voltage is high"),
        _("Compare coupling dial and reflected ratio with the record; do not raise the drive."),
        (Hazard.RF_BURN,)),
    "S5": SymptomText(
        _("Both anode currents up and grid currents down, or less coupling needed for the same power"),
        _("loading too heavy, a change of the antenna's resistance, wet"),
        _("Compare coupling dial and reflected ratio with the record; look at the weather."),
        (Hazard.RF_BURN,)),
    "S6": SymptomText(
        _("Both grid currents, bias and the driver's current down"),
        _("drive low: driver tube weak, driver off tune, level from the exciter, wrong band"),
        _("Follow the driver's meters stage by stage from the exciter on.")),
    "S7": SymptomText(
        _("Driver's current up, grid currents of the final not: the drive does not arrive"),
        _("driver's output or the final's input off tune, a contact between the stages"),
        _("Compare the drive-tune dial with the record; contacts between the stages after shut-down."),
        (Hazard.CHARGE,)),
    "S8": SymptomText(
        _("Anode and grid current of one final tube down, its filament as always, the other tube normal"),
        _("low emission of that tube"),
        _("Look at its trend over the filament hours and at the tone; within the maker's limits one step of filament up restores it for a time: plan the change."),
        (Hazard.BERYLLIUM,)),
    "S9": SymptomText(
        _("Filament current of one tube down at the same voltage"),
        _("a strand of the filament open, or a loose or hot filament contact"),
        _("Contacts first, by temperature and torque after shut-down; then the tube."),
        (Hazard.BERYLLIUM,)),
    "S10": SymptomText(
        _("Filament voltage of one tube low, the others normal"),
        _("its tap, a drop at a contact, one phase, or the lead of the meter"),
        _("Measure true RMS at the tube.")),
    "S11": SymptomText(
        _("Grid current of a tube falls, anode current creeps up, trips more often"),
        _("a gassy tube, loss of vacuum"),
        _("Condition it on filaments and stepped HT; hold-off test; have a spare ready."),
        (Hazard.X_RAYS, Hazard.BERYLLIUM)),
    "S12": SymptomText(
        _("Grid current of one tube falls as the set warms and is back when it is cold"),
        _("grid emission: a grid that was overheated or contaminated"),
        _("Start cold and compare at 5, 30 and 60 minutes; look for a spell off tune.")),
    "S13": SymptomText(
        _("A dial stands elsewhere for the same wave"),
        _("one wave: antenna, feeder or that coil's contacts; all waves: tube capacity, or the dial slipped"),
        _("Compare all waves; sweep of the antenna; how the dial sits on its shaft after shut-down."),
        (Hazard.CHARGE,)),
    "S14": SymptomText(
        _("A pair is unequal after its tubes were swapped"),
        _("moves with the tube: the tube; stays with the socket: circuit, shunt or meter"),
        _("Swap meters and shunts on paper first, then in the set."),
        (Hazard.CHARGE, Hazard.BERYLLIUM)),
    "S15": SymptomText(
        _("The pair unequal and the legs of the feeder unequal as well"),
        _("unbalance inside the set: balance coil, tank clip, one capacitor, an earthed point"),
        _("Compare the dials; symmetry of the tank after shut-down."),
        (Hazard.CHARGE, Hazard.PCB)),
    "S16": SymptomText(
        _("One leg of the feeder up and the other down, tubes equal"),
        _("leg of feeder or antenna: leakage, broken or earthed, output balance"),
        _("Another antenna on the same set; swap the ammeters; walk the line with the field off."),
        (Hazard.RF_BURN,)),
    "S17": SymptomText(
        _("Reflected power up on one antenna"),
        _("broken dipole or feeder, a burnt contact of the switch, wrong slew or reversal"),
        _("Switch position against the entry; other waves on that antenna; walk the line."),
        (Hazard.RF_BURN,)),
    "S18": SymptomText(
        _("Reflected power up in rain, mist or ice, and back in dry weather"),
        _("insulators that track, a wet or icy line"),
        _("Look at the weather code; reduce power; wash and inspect the insulators."),
        (Hazard.RF_BURN,)),
    "S19": SymptomText(
        _("Reflected power up on every antenna of one set"),
        _("the reflectometer, the line near the set, the arm of the switch, its calibration"),
        _("Another route to the antenna; test into the load."),
        (Hazard.RF_BURN,)),
    "S20": SymptomText(
        _("Reflected power high at once after a change of wave, dials as recorded"),
        _("wrong antenna, slew or frequency, the switch not fully home"),
        _("Two people read switch and frequency aloud.")),
    "S21": SymptomText(
        _("One RF ammeter down, power and the other leg normal"),
        _("a thermocouple ammeter, burnt or aged"),
        _("Compare the other leg, and I squared Z with the power."),
        (Hazard.RF_BURN,)),
    "S22": SymptomText(
        _("Efficiency better than it ever was"),
        _("a meter, or a slip in writing"),
        _("Add up the HT currents; read again.")),
    "S23": SymptomText(
        _("The tubes' currents do not add up to the HT total"),
        _("a shunt or a meter, a slip, leakage of the HT to earth"),
        _("Read again; then calibration; insulation of the HT."),
        (Hazard.CHARGE,)),
    "S24": SymptomText(
        _("Flow of a loop down and its rise up, electrical readings normal"),
        _("pump, valve or strainer"),
        _("Flow, current of the pump, pressure across the strainer."),
        (Hazard.HOT_WATER,)),
    "S25": SymptomText(
        _("Return temperature up beside the raw water, flow and rise normal"),
        _("condenser fouled or air-bound"),
        _("Vent it, clean at the next outage; raw water temperature first."),
        (Hazard.HOT_WATER,)),
    "S26": SymptomText(
        _("Less heat in one loop for the same dissipation"),
        _("a flow or temperature meter, steam escaping"),
        _("Flow by rise against the input; look for a leak, make-up water."),
        (Hazard.HOT_WATER,)),
    "S27": SymptomText(
        _("Boiler level falls, or make-up water rises"),
        _("leak, vent, a valve that sticks; without water the anode is lost in seconds"),
        _("At the alarm HT off first, then look."),
        (Hazard.HOT_WATER,)),
    "S28": SymptomText(
        _("Conductivity creeps up over weeks"),
        _("resin spent, dissolved carbon dioxide or metal"),
        _("Change the resin; trend over the litres.")),
    "S29": SymptomText(
        _("Conductivity jumped within hours or a day or two"),
        _("raw water through the condenser, wrong water topped up, a new hose or flux"),
        _("Stop topping up; isolate the condenser; take a sample."),
        (Hazard.HOT_WATER,)),
    "S30": SymptomText(
        _("Leakage current up more than the conductivity explains"),
        _("deposits or an eroded target in the hose, wet outside, the cell fouled"),
        _("A second cell; look at the hoses after shut-down."),
        (Hazard.HOT_WATER, Hazard.CHARGE)),
    "S31": SymptomText(
        _("Idle current of one modulator has moved"),
        _("bias; up with time a gassy tube; down a weak one"),
        _("Read the bias; swap the tubes; unequal currents magnetise the transformer: hum, distortion."),
        (Hazard.BERYLLIUM,)),
    "S32": SymptomText(
        _("Modulator idle as always, low on the test tone"),
        _("low emission of that modulator, its drive, a tap of the transformer"),
        _("Filament voltage; tone current of each tube."),
        (Hazard.BERYLLIUM,)),
    "S33": SymptomText(
        _("Anode current of the final falls with modulation"),
        _("weak emission of the final, too little drive, sag of the HT"),
        _("Sag of the HT first; then drive, then the tubes.")),
    "S34": SymptomText(
        _("Trips on one wave alone"),
        _("RF flashover at that coil set, capacitor or antenna"),
        _("The first indicator of each trip; coil contacts after shut-down; insulators."),
        (Hazard.RF_BURN, Hazard.PCB)),
    "S35": SymptomText(
        _("Trips on any wave on damp days"),
        _("HT insulators, air filter, entry of the feeder"),
        _("Clean; the first indicator of each trip; the weather."),
        (Hazard.CHARGE,)),
    "S36": SymptomText(
        _("Trips when the HT comes on, before RF"),
        _("rectifier, capacitor, crowbar, an arc in a new or long stored tube"),
        _("Insulation after shut-down; condition the tube; mercury rectifiers need their warm-up."),
        (Hazard.CHARGE, Hazard.MERCURY, Hazard.PCB)),
    "S37": SymptomText(
        _("Filament voltage of all tubes down by the same share"),
        _("mains or the regulator"),
        _("Read the mains voltage; do not trim each tube.")),
    "S38": SymptomText(
        _("Pressure drop of the filter up, or cooling air warmer"),
        _("filter clogged, damper, belt of the blower"),
        _("Read the pressure drop and clean the filter.")),
    "S39": SymptomText(
        _("All meters exactly as in the hours before"),
        _("copied, or an instrument link that stands still"),
        _("Read again.")),
}
# fmt: on

INSIDE = frozenset(row.id for row in ROWS if row.is_inside)
"""What is looked at inside the set."""

SIGN_WORDS: dict[str, Promise] = {
    "ht": _("HT voltage"),
    "ht current": _("HT total current"),
    "ht sum": _("HT total beside the tubes' currents"),
    "driver volts": _("driver anode voltage"),
    "driver": _("driver anode current"),
    "anode": _("anode current of the final"),
    "anode apart": _("anode current beside the other tube"),
    "grid": _("grid current of the final"),
    "grid apart": _("grid current beside the other tube"),
    "bias": _("grid bias"),
    "idle": _("modulator idle current"),
    "idle apart": _("idle current beside the other tube"),
    "tone": _("current on the test tone"),
    "filament volts": _("filament voltage"),
    "filament current": _("filament current"),
    "forward": _("forward power"),
    "reflection dry": _("reflected ratio in dry weather"),
    "reflection wet": _("reflected ratio in wet weather"),
    "leg": _("feeder current"),
    "leg apart": _("feeder current beside the other leg"),
    "feeder": _("feeder current beside the power"),
    "efficiency": _("efficiency"),
    "steam": _("steam rate"),
    "level": _("water level"),
    "flow": _("flow"),
    "rise": _("temperature rise"),
    "heat": _("heat in the water"),
    "above raw": _("water temperature beside the raw water"),
    "air": _("rise of the cooling air"),
    "drop": _("pressure drop of the filter"),
    "conductivity": _("conductivity"),
    "leakage": _("leakage current beside the conductivity"),
    "dial": _("dial"),
    "coupling": _("coupling dial"),
    "mains": _("mains voltage"),
    "mains power": _("mains input power"),
}
