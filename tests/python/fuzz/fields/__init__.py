"""One generator of cases per field."""

from __future__ import annotations

import os
from collections.abc import Callable

from fuzz.fields import counts, csv_bytes, files, frames, names, options, records, verbs
from fuzz.oracle import Oracle


def broken(look: Oracle) -> None:
    """Kills its process in case 1 and never ends in case 2: what the driver is tried with."""
    if look.number == 1:
        os.abort()
    while look.number == 2:
        pass


FIELDS: dict[str, Callable[[Oracle], None]] = {
    "csv": csv_bytes.run,
    "frames": frames.run,
    "counts": counts.run,
    "verbs": verbs.run,
    "options": options.run,
    "records": records.run,
    "files": files.run,
    "names": names.run,
    "broken": broken,
}
