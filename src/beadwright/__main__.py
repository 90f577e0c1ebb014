"""`python -m beadwright` is the command line."""

from beadwright.cli import main

if __name__ == "__main__":
    main()
