"""Which rows of the table of symptoms describe each kind of fault of the generator.

The generator reads no table of symptoms, and the table nothing of the generator: here the two are
put side by side. Of several rows each is right: the readings do not tell them apart.
"""

TOLD_AS: dict[str, frozenset[str]] = {
    "weak_final": frozenset({"S8"}),
    "gas_in_final": frozenset({"S11", "S12"}),
    "weak_modulator": frozenset({"S32"}),
    "modulator_bias": frozenset({"S31"}),
    "broken_strand": frozenset({"S9"}),
    "filament_contact": frozenset({"S9"}),
    "filament_supply": frozenset({"S10", "S37"}),
    "off_tune": frozenset({"S3"}),
    "tank_capacitor": frozenset({"S13"}),
    "load_shift": frozenset({"S4", "S5"}),
    "aerial_damage": frozenset({"S17", "S19"}),
    "wet_insulator": frozenset({"S18"}),
    "leg_contact": frozenset({"S16"}),
    "raw_flow_low": frozenset({"S24"}),
    "loop_flow_low": frozenset({"S24"}),
    "condenser_fouled": frozenset({"S25"}),
    "resin_exhausted": frozenset({"S28"}),
    "raw_water_leak": frozenset({"S29"}),
    "hose_deposits": frozenset({"S30"}),
    "boiler_level_low": frozenset({"S27"}),
    "boiler_leak": frozenset({"S27"}),
    "driver_emission": frozenset({"S6"}),
    "interstage_loss": frozenset({"S7"}),
    "ht_phase": frozenset({"S1", "S2"}),
    "air_filter": frozenset({"S38"}),
    "air_flow_low": frozenset({"S38"}),
    "thermocouple_ageing": frozenset({"S21"}),
}
"""Gas and grid emission differ in what happens after a cold start; a lost phase in its hum; where
one voltmeter reads all tubes of the stage, one supply is all of them; the generator lets a damaged
aerial show on every wave. Kinds that no row describes: tank_loss, mains_tap, and the faults of
single meters (zero, scale, stuck), of which the reading rule 'one meter alone is usually the meter'
speaks."""
