"""`python -m choreo` is the `choreo` command."""

from choreo.commands.entry import main

if __name__ == "__main__":
    main()
