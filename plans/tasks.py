"""The Celery face of the jobs: names, registration, nothing else."""

from __future__ import annotations

from celery import shared_task

from plans import (
    accepting,
    appending,
    assigning_many,
    handouts,
    jobs,
    offering,
    railing,
    rebalancing,
    recarding,
)

# Imported for the jobs they carry.
__all__ = ["accepting", "assigning_many", "carry_out", "offering", "railing", "sweep"]


@shared_task(name="plans.carry_out")
def carry_out(pk: int) -> bool:
    return jobs.run(pk)


@shared_task(name="plans.sweep")
def sweep() -> int:
    """Take up what nobody carried, and write the periodic rows. One process needs no beat of its own."""
    appending.advance_all()
    rebalancing.write_hourly_look()
    recarding.write_nightly_look()
    handouts.write_sunday()
    rows = jobs.due_jobs()
    for pk in rows:
        jobs.run(pk)
    jobs.forget_old()
    handouts.forget_old_batches()
    return len(rows)
