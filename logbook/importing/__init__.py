"""Past readings out of a CSV file into the log, every line of it judged, nothing guessed.

A wide file has a line for each round: ``observed_at, transmitter, state, frequency_khz, antenna,
power_kw, modulation, observer``, then a column for each meter code. A long one has a line for each
reading: the same columns, then ``meter, value``. Both may say ``slot`` and ``kind``; without them
a round is routine and belongs to the slot nearest before it. A column may have its unit behind
its name: ``ht_voltage [kV]``. Instants are ISO 8601 with their zone, or in a column headed
``observed_at [UTC]``. Lines stand in order of time for each transmitter.
"""
