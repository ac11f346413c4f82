"""The whole of a station's database in one file that either engine takes.

The file is gzip of JSON lines. The first says what was backed up: the format, the newest migration
of each app, the head of every station's chain. Then comes each table with its columns, followed by
its rows in lines of a thousand. The last line holds the number of rows of every table and the
SHA-256 of all lines before it: a file without it was cut.

Left out is what can be made again or must not live on: what the analysis stored (`assess`), the
sessions, the counts of failed sign-ins, and the admin's own list of recent changes.
"""
