"""The command line: parse, call the library, print. Results on stdout, the rest on stderr.

Nothing heavy is imported before a command runs, so that `beadwright --help` stays quick.
"""

from __future__ import annotations

import sys

EXIT_INTERRUPTED = 130


def main() -> None:
    """Run the command line; turn our own failures into one sentence on stderr and an exit code."""
    from beadwright.cli.app import app
    from beadwright.errors import BeadwrightError

    try:
        app()
    except BeadwrightError as failure:
        print(f"beadwright: {failure}", file=sys.stderr)
        sys.exit(failure.exit_code)
    except KeyboardInterrupt:
        print("beadwright: stopped; nothing half-written.", file=sys.stderr)
        sys.exit(EXIT_INTERRUPTED)
    except BrokenPipeError:  # the reader of a pipe went away: not our failure
        sys.stderr.close()
        sys.exit(0)
