"""Fuzz target for the case file: any bytes end in a case or in a CaseError.

Run it with `python tests/fuzz/fuzz_case.py -max_total_time=60` where atheris is installed.
"""

from __future__ import annotations

import sys

from beadwright.case.read import read_case
from beadwright.case.write import to_toml
from beadwright.errors import CaseError


def one_input(data: bytes) -> None:
    """Read bytes as a case; what is accepted must survive being written and read again."""
    try:
        case = read_case(data.decode("utf-8", "replace"))
    except CaseError:
        return
    case.facts()
    case.unread()
    if read_case(to_toml(case)) != case:
        raise AssertionError("written and read back, the case differs")


def main() -> None:
    import atheris

    atheris.instrument_all()
    atheris.Setup(sys.argv, one_input)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
