"""The log's tables as CSV: units in the headings, marks and corrections kept, no formulas.

The tables of rounds and of readings are read back by ``import_log``, and give the same reading.
"""
