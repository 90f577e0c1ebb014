"""Does anything acknowledged get lost when the process is killed at any moment?

    python benchmarks/kills.py --kills 500

Again and again a child process opens the shop and a case, adds exhibits, answers checks, and says so after
each call; it is killed (SIGKILL) at a random moment, the opening included. Then the shop is opened again and
everything that was said must be there: rows, answers, bytes with the right hash. Nothing may be half-visible:
every exhibit that a case holds has all its bytes, every change its event, and the database finds itself
sound. `--early` acknowledges before doing: the negative control, which must be caught. Prints one JSON
object. Needs fork.
"""

from __future__ import annotations

import argparse
import hashlib
import itertools
import json
import os
import random
import signal
import sys
import tempfile
import time

from beadwright.shop.location import ShopLocation, find_shop
from beadwright.shop.store import Store

LONGEST_LIFE = 3  # rounds of opening, adding and answering, as quick as this machine is now
EXHIBIT_BYTES = (1, 300_000)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--kills", type=int, default=500)
    options.add_argument("--seed", type=int, default=20)
    options.add_argument("--early", action="store_true", help="acknowledge before doing: must be caught")
    given = options.parse_args()
    began = time.perf_counter()
    with tempfile.TemporaryDirectory(prefix="beadwright-kills-") as folder:
        found = run(find_shop(folder, environment={}), given.kills, given.seed, given.early)
    print(json.dumps(found | {"seconds": round(time.perf_counter() - began, 1)}))
    sys.exit(1 if found["lost"] or found["unsound"] else 0)


def run(location: ShopLocation, kills: int, seed: int, early: bool) -> dict[str, int]:
    """Kill `kills` children; return counts: acknowledged, lost, unsound, and parts, files left unfinished."""
    chance = random.Random(seed)
    _one_round(location)  # imports and loads all that the children need
    began = time.perf_counter()
    _one_round(location)
    longest_s = LONGEST_LIFE * (time.perf_counter() - began)
    acknowledged: list[str] = []
    unsound = 0
    for _ in range(kills):
        acknowledged += _one_life(location, chance.getrandbits(64), chance.uniform(0, longest_s), early)
        with Store.open(location) as store:
            unsound += not _is_sound(store)
    with Store.open(location) as store:
        lost = [line for line in acknowledged if not _is_there(store, line)]
        parts = len(list(store.exhibits.parts()))
        unsound += not store.verify().is_sound
    return {
        "kills": kills,
        "acknowledged": len(acknowledged),
        "lost": len(lost),
        "unsound": unsound,
        "parts": parts,
    }


def _one_round(location: ShopLocation) -> None:
    with Store.open(location) as store:
        number = store.new_case('[case]\nstory = "before the first kill"').number
        store.add_exhibit(number, "photo.jpg", bytes(EXHIBIT_BYTES[1] // 2))
        store.answer(number, "check_0", "yes")


def _one_life(location: ShopLocation, seed: int, life_s: float, early: bool) -> list[str]:
    """Let a child work for `life_s`, kill it, and return what it acknowledged."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        try:
            _work(location, random.Random(seed), writing, early)
        finally:
            os._exit(70)  # only reached by a failure: the work has no end
    os.close(writing)
    time.sleep(life_s)
    os.kill(child, signal.SIGKILL)
    with os.fdopen(reading, "rb") as pipe:
        said = pipe.read().decode()
    _, status = os.waitpid(child, 0)
    if not os.WIFSIGNALED(status):
        raise RuntimeError(f"the child failed by itself (status {status}); see above")
    return said.splitlines()


def _work(location: ShopLocation, chance: random.Random, pipe: int, early: bool) -> None:
    store = Store.open(location)
    number = store.new_case('[case]\nstory = "the corner of the tern bracket lifted"').number
    os.write(pipe, f"{number} case\n".encode())
    for turn in itertools.count():
        content = chance.randbytes(chance.randint(*EXHIBIT_BYTES))
        kept = f"{number} exhibit {hashlib.sha256(content).hexdigest()}\n".encode()
        answered = f"{number} answer check_{turn}\n".encode()
        if early:
            os.write(pipe, kept + answered)
        store.add_exhibit(number, "photo.jpg", content)
        if not early:
            os.write(pipe, kept)
        store.answer(number, f"check_{turn}", "yes")
        if not early:
            os.write(pipe, answered)


def _is_sound(store: Store) -> bool:
    return store.database.check() == "ok" and all(
        row.revision == len(store.events(row.number))
        and [line.file for line in row.case().exhibit] == [one.name for one in row.exhibits]
        and all(store.exhibit_path(one.sha256).stat().st_size == one.bytes for one in row.exhibits)
        for row in store.list_cases()[-3:]  # the latest; the whole shop is verified at the end
    )


def _is_there(store: Store, line: str) -> bool:
    number, what, *said = line.split()
    row = store.get(int(number))
    if what == "answer":
        return any(one.check == said[0] for one in row.case().answer)
    if what == "exhibit":
        return store.exhibits.hash_again(said[0]) == said[0] and any(one.sha256 == said[0] for one in row.exhibits)
    return what == "case"


if __name__ == "__main__":
    main()
