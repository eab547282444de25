"""Rule sets: what counts as a valid run, as data with clause and status.

Read it in this order:

    records.py   what a rule set is: windows, bands, instants, settles, shapes, what holds between runs, conditions
"""
