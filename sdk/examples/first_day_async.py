"""First day with the service, from asyncio: a hundred houses at once, over one client.

dosewright serve &        python sdk/examples/first_day_async.py [address]

The houses are invented: the same line at a hundred flows. For many rows of one calculation a batch is a single request
and faster still, as the end shows; calls at once suit many different questions.
"""

import asyncio
import sys

from dosewright_sdk import AsyncClient
from dosewright_sdk.types import VelocityAnswer

address = sys.argv[1] if len(sys.argv) > 1 else "http://127.0.0.1:8254"
FLOWS = [2.0 + 0.1 * house for house in range(100)]


async def main() -> None:
    """Ask each house on its own, all at once; then all houses in one batch."""
    # The client holds at most 100 connections; calls beyond that wait for a free one.
    async with AsyncClient(address, timeout=30.0) as client:

        async def ask(flow: float) -> VelocityAnswer[float]:
            return await client.pipe.velocity(flow=flow, material="copper_type_l", nominal_size="3/4", units="us")

        # Answers come in the order of the calls; the first failure cancels the rest.
        async with asyncio.TaskGroup() as group:
            tasks = [group.create_task(ask(flow)) for flow in FLOWS]
        answers = [task.result() for task in tasks]
        for flow, answer in zip(FLOWS, answers, strict=True):
            print(f"{flow!r} gal/min: {answer.velocity!r} {answer.units['velocity']}")

        batch = await client.pipe.velocity_batch(flow=FLOWS, material="copper_type_l", nominal_size="3/4", units="us")
        same = [answer.velocity for answer in answers] == list(batch["velocity"])
        print(f"the batch of {batch.rows} rows gives the same: {same}")


asyncio.run(main())
