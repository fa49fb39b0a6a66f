"""`python -m pressfuncs` is the command `pressfuncs`."""

from pressfuncs.cli import main

if __name__ == "__main__":
    main()
