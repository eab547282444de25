"""The page of a scenario that follows its files, with sliders for what-if, served on this machine alone.

Two processes, so that a page is answered whatever is being planned:

    address, access   where it is served, and who may ask
    watching          which files changed
    session           what pages see and want, and what is planned next: no network, no process in it
    worker            the process that plans, as the session asks it
    serving           HTTP and web sockets; the only module that knows tornado
    child, planning   the other process: plans as saved, plans with other values, writes values into the file
    sliders, picture  what may be moved, and how far; a plan as a page takes it in
"""
