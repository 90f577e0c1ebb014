"""From a case to its answer: read the exhibits, gather facts, audit, rank, plan. Both faces call this and nothing else."""

from __future__ import annotations
