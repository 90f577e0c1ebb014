"""Which shop: the one named, else the one the environment names, else the one in the platform's data folder.

A shop is a folder holding `shop.sqlite` and `exhibits/`. Where it outgrows one machine it is a PostgreSQL
database by URL, with the exhibits in a folder beside.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from beadwright.errors import InputError

SHOP_VARIABLE = "BEADWRIGHT_SHOP"
EXHIBITS_VARIABLE = "BEADWRIGHT_EXHIBITS"
DATABASE_FILE = "shop.sqlite"
EXHIBITS_FOLDER = "exhibits"
_URL = re.compile(r"(?P<scheme>[A-Za-z][A-Za-z0-9+.-]+)://")  # two letters at least: C:\ is a drive
_SECRETS = re.compile(r"(?<=://)(?P<user>[^/@:]*):[^/]*@|\?.*")  # a query may hold a password too


@dataclass(frozen=True)
class ShopLocation:
    """Where a shop is kept: `database` is a file, or a PostgreSQL URL; `exhibits` is always a folder."""

    database: Path | str
    exhibits: Path

    @property
    def is_file(self) -> bool:
        return isinstance(self.database, Path)

    @property
    def name(self) -> str:
        """What to call this shop in a sentence: the folder, or the URL without its password."""
        if isinstance(self.database, Path):
            return str(self.database.parent)
        return _SECRETS.sub(lambda found: f"{found['user']}@" if found["user"] is not None else "", self.database)


def find_shop(
    wanted: str | Path | None = None,
    environment: Mapping[str, str] | None = None,
    data_folder: Path | None = None,
) -> ShopLocation:
    """Return the location of `wanted` (a folder or a URL), else of BEADWRIGHT_SHOP, else in the data folder.

    Nothing is touched. InputError for a URL of another kind, or a path that is an existing file.
    """
    environment = os.environ if environment is None else environment
    chosen = str(wanted or environment.get(SHOP_VARIABLE) or "").strip()
    if not chosen:
        return _in_folder(data_folder or _platform_folder())
    url = _URL.match(chosen)
    if url is None:
        return _in_folder(Path(chosen).expanduser())
    if url["scheme"].lower() not in ("postgresql", "postgres"):
        raise InputError(
            f"a shop cannot be kept at a {url['scheme']!r} address",
            where="--shop",
            fix="Give a folder, or an address that begins with postgresql://",
        )
    beside = environment.get(EXHIBITS_VARIABLE)
    exhibits = Path(beside).expanduser() if beside else (data_folder or _platform_folder()) / EXHIBITS_FOLDER
    return ShopLocation("postgresql" + chosen[url.end("scheme") :], exhibits.absolute())


def _in_folder(folder: Path) -> ShopLocation:
    if folder.is_file():
        raise InputError(
            "is a file, and a shop is a folder",
            where=str(folder),
            fix=f"Name the folder that holds {DATABASE_FILE}, or one to make",
        )
    folder = folder.absolute()
    return ShopLocation(folder / DATABASE_FILE, folder / EXHIBITS_FOLDER)


def _platform_folder() -> Path:
    from platformdirs import user_data_path

    return user_data_path("beadwright", appauthor=False)
