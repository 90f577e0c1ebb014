"""All faults, and the draw of one or two of them."""

from __future__ import annotations

from beadwright.virtual.fault import Fault
from beadwright.virtual.faults_file import BED, COOLING, SETTINGS
from beadwright.virtual.faults_melt import FILAMENT, MELT
from beadwright.virtual.faults_motion import AROUND, MOTION

FAULTS: tuple[Fault, ...] = (*MOTION, *MELT, *FILAMENT, *BED, *COOLING, *SETTINGS, *AROUND)
