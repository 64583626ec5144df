"""Work that takes longer than a page may: one worker process at a time, the others wait their turn."""

from __future__ import annotations

import asyncio
import json
import os
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from puttvision.errors import PuttvisionError

State = Literal["waiting", "running", "done", "failed", "stopped"]

_GIVEN_UP = (
    "the work broke off: try again; if it breaks off again, see what `puttvision measure` says of this clip"
)


@dataclass(slots=True)
class Job:
    """One order and how far it is."""

    key: str
    order: dict[str, Any]
    when_done: Callable[[Job, State], None] | None = None
    state: State = "waiting"
    done_s: float = 0.0
    total_s: float = 0.0
    error: str = ""
    process: asyncio.subprocess.Process | None = None

    @property
    def is_over(self) -> bool:
        return self.state in ("done", "failed", "stopped")

    def to_json(self) -> dict[str, Any]:
        return {"state": self.state, "done_s": self.done_s, "total_s": self.total_s, "error": self.error}


class Jobs:
    """The line of orders. Use from one event loop; ``stop_all`` at the end."""

    def __init__(self) -> None:
        self._jobs: dict[str, Job] = {}
        self._turn = asyncio.Lock()
        self._tasks: set[asyncio.Task[None]] = set()

    def get(self, key: str) -> Job | None:
        return self._jobs.get(key)

    def start(
        self,
        key: str,
        task: Literal["measure", "preview"],
        clip: Path,
        folder: Path,
        by_hand: dict[str, Any] | None = None,
        name: str = "",
        when_done: Callable[[Job, State], None] | None = None,
    ) -> Job:
        """Put an order in line; the one that is under way already is returned as it is."""
        job = self._jobs.get(key)
        if job is not None and not job.is_over:
            return job
        order = {
            "task": task,
            "clip": str(clip),
            "folder": str(folder),
            "by_hand": by_hand or {},
            "name": name,
        }
        job = self._jobs[key] = Job(key, order, when_done)
        running = asyncio.get_running_loop().create_task(self._run(job))
        self._tasks.add(running)
        running.add_done_callback(self._tasks.discard)
        return job

    async def stop(self, key: str) -> None:
        """Stop an order, waiting or running."""
        job = self._jobs.get(key)
        if job is None or job.is_over:
            return
        job.state = "stopped"
        if job.process is not None:
            with suppress(ProcessLookupError):
                job.process.kill()
            await job.process.wait()

    async def stop_all(self) -> None:
        for key in list(self._jobs):
            await self.stop(key)
        if self._tasks:
            await asyncio.wait(self._tasks, timeout=5)

    async def _run(self, job: Job) -> None:
        async with self._turn:
            if job.is_over:
                return
            job.state = "running"
            finished = False
            try:
                finished = await self._work(job)
            except (OSError, ValueError) as err:
                job.error = f"{_GIVEN_UP} ({err})"
            if job.is_over:  # stopped
                return
            if not finished:
                job.error = job.error or _GIVEN_UP
            await self._wind_up(job, "done" if finished else "failed")

    async def _wind_up(self, job: Job, state: State) -> None:
        """What comes after the work; where that fails, the job has failed. Only then is it over."""
        if job.when_done is not None:
            try:
                await asyncio.to_thread(job.when_done, job, state)
            except PuttvisionError as err:
                state, job.error = "failed", str(err)
        job.state = state

    async def _work(self, job: Job) -> bool:
        """Run the worker; whether it finished."""
        finished = False
        job.process = process = await asyncio.create_subprocess_exec(
            sys.executable,
            "-m",
            "puttvision.review.page.worker",
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            stderr=asyncio.subprocess.DEVNULL,
            env=os.environ | {"OMP_NUM_THREADS": "1"},
        )
        assert process.stdin is not None
        assert process.stdout is not None
        if job.is_over:  # stopped while the process came up
            process.kill()
        process.stdin.write(json.dumps(job.order).encode())
        with suppress(BrokenPipeError, ConnectionResetError):
            await process.stdin.drain()
        process.stdin.close()
        async for line in process.stdout:
            said = json.loads(line)
            job.done_s = said.get("done_s", job.done_s)
            job.total_s = said.get("total_s", job.total_s)
            job.error = said.get("error", job.error)
            finished = finished or bool(said.get("done"))
        await process.wait()
        return finished
