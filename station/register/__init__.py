"""The register file: a station described by hand, read, checked and taken into the register.

``table`` reads one table of the file, ``likeness`` fills a transmitter from another, ``describe``
and ``meters`` turn the file into rows, ``checks`` finds what is wrong with them, ``stored`` reads
the same rows from the register, ``compare`` says what differs, ``take`` writes it, and
``versions`` never edits a limit.
"""
