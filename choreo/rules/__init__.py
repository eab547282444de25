"""Rule sets: what counts as a valid run, as data with clause and status.

Read it in this order:

    records.py   what a rule set is: windows, bands, instants, settles, shapes, what holds between runs, conditions
    numbers.py   bounds as people write them, and back;  events.py  moments of a run
    written.py   the file's keys;  making.py  file -> records;  reading.py  a file with the set that it builds on
    evaluating.py, shapes.py   rules held against signals over time
    sets/        the sets that travel with the program
"""
