"""`python -m choreo` is the `choreo` command."""

from choreo.commands.main import main

if __name__ == "__main__":
    main()
