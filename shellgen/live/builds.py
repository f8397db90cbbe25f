"""Builds a pack for the page: one at a time, in a thread, with its progress; a build can be cancelled."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from shellgen import preset
from shellgen.canvas import rule
from shellgen.core.flow import Flow
from shellgen.errors import FaultError, ShellgenError
from shellgen.live import pace
from shellgen.live.work import located
from shellgen.live.workplace import Workplace
from shellgen.model.said import count


class CancelledError(Exception):
    """The maker has cancelled the build."""


@dataclass(slots=True, eq=False)
class PackBuild:
    """One build, while it runs and after.

    send  : called with what the page shows, at every stage
    state : "running", "done", "cancelled" or "failed"
    """

    path: Path
    place: Workplace
    send: Callable[[dict[str, Any]], None]
    worker: Executor | None = None
    accept_faults: bool = False
    state: str = "running"
    report: dict[str, Any] = field(default_factory=dict)
    _stages: list[tuple[str, float]] = field(default_factory=list)
    _cancelled: threading.Event = field(default_factory=threading.Event)

    def start(self) -> None:
        self._tell("running", text="Reading the preset", done=0.0, left=pace.at((), 0.0)[1])
        threading.Thread(target=self._run, daemon=True).start()

    def cancel(self) -> None:
        """Ends the build before its next stage. The pack that is there stays as it is."""
        self._cancelled.set()

    def _run(self) -> None:
        both = rule.METRIC.both
        try:
            from shellgen.pack import contents  # heavy

            wanted = preset.read(self.path)
            both = rule.of(wanted.print.paper).both
            folder = self.place.place_of_pack(str(wanted.name))
            made = contents.build(
                wanted, flow=Flow(worker=self.worker), progress=self._progress, accept_faults=self.accept_faults
            )
            self._progress("writing")
            made.write(folder)
            faults = sum(finding.level == "fault" for finding in made.record.findings)
            warning = f", with {count(faults, 'fault')}: correct that before you cut anything" if faults else ""
            prints = [asdict(paper) for paper in made.prints]
            self._tell("done", text=f"The pack is built{warning}.", pack=folder.name, folder=str(folder), prints=prints)
        except CancelledError:
            self._tell("cancelled", text="Cancelled. No file of a pack has changed.")
        except FaultError as error:
            self._tell("failed", text=f"{error} {' '.join(map(both, error.faults))}", faults=True)
        except ShellgenError as error:
            self._tell("failed", text=both(str(located(error, self.path))))
        except Exception as error:  # the page must hear of it
            logging.getLogger(__name__).exception("while building %s", self.path)
            self._tell("failed", text=f"The program failed ({type(error).__name__}). The terminal shows where.")

    def _progress(self, stage: str) -> None:
        if self._cancelled.is_set():
            raise CancelledError
        now = time.monotonic()
        self._stages.append((stage, now))
        done, left = pace.at(self._stages, now)
        self._tell("running", text=stage[:1].upper() + stage[1:], done=round(done, 4), left=round(left, 1))

    def _tell(self, state: str, **more: Any) -> None:
        self.state, self.report = state, {"state": state, **more}
        self.send(self.report)
