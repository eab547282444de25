"""The page of a scenario that follows its files, with sliders for what-if, served on this machine alone.

Two processes, so that a page is answered whatever is being planned. The server, which loads little:

    address, access   where it is served, and who may ask
    watching          which files changed
    session           what pages see and want, and what is planned next: no network, no process in it
    worker            the process that plans, as the session asks it
    serving           HTTP and web sockets; the only module that knows tornado

and the one that plans:

    child, planning   plans as saved, plans with other values, writes values into the file
    sliders, naming   what may be moved, and how far; which files are watched
    picture, html     a plan as a page takes it in; the page itself (kept.js and live.js beside the script of all pages)
"""
