"""run.json: what a run was, on what, with which settings."""

from __future__ import annotations

import platform
from collections.abc import Mapping
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from acquire.errors import RunFileError
from acquire.record.bench_time import UTC_OFFSET, day_at_bench, moment_words, offset_from
from acquire.record.json_text import many_lines, parse, read_json
from acquire.record.migrate import RUN_STEPS, SCHEMA, up_to_date
from acquire.record.run_name import utc_of
from profiles.catalogue import snapshot
from profiles.plain_text import listed, visible

if TYPE_CHECKING:
    from profiles.catalogue import Loaded

RUN_FILE = "run.json"
RunState = Literal["running", "stopped", "complete"]
_UTC = r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z$"


class _Part(BaseModel):
    """Keys a later schema-1 program may add are kept."""

    model_config = ConfigDict(frozen=True, extra="allow")


class Job(_Part):
    """The workshop's order; every key is optional."""

    number: str | None = None
    customer: str | None = None
    fitted_to: str | None = None
    complaint: str | None = None
    parts_fitted: str | None = None
    claim: str | None = None


class Snapshot(_Part):
    """A profile as it was at the start: the run is judged and resumed by this text."""

    title: str
    path: str | None = None
    origin: str
    """user, shipped, file or plate."""
    text: str
    values: dict[str, Any] = {}
    """Every value used, with defaults and with what the file refers to: what a resume reads."""

    @classmethod
    def of(cls, loaded: Loaded[Any]) -> Snapshot:
        """Take the snapshot of a `profiles.catalogue.Loaded`."""
        path = None if loaded.path is None else str(loaded.path)
        if loaded.path is not None and loaded.origin == "shipped":
            path = f"{loaded.path.parent.name}/{loaded.path.name}"  # wherever the program lies
        return cls(
            title=loaded.profile.title,
            path=path,
            origin=str(loaded.origin),
            text=loaded.text,
            values=snapshot(loaded.profile),
        )


class InstrumentFacts(_Part):
    """Who an instrument says it is, and when it was calibrated."""

    identity: str | None = None
    calibration: dict[str, Any] | None = None


class RunHeader(_Part):
    """The whole of run.json (see schemas/run.schema.json)."""

    schema_: int = Field(default=SCHEMA, alias="schema", strict=True)
    program: str
    run_id: str = Field(min_length=1, max_length=200)
    began_utc: str = Field(pattern=_UTC)
    ended_utc: str | None = Field(default=None, pattern=_UTC)
    state: RunState = "running"
    simulated: bool = Field(default=False, strict=True)
    job: Job = Job()
    unit: str | None = None
    serial: str | None = None
    stage: str | None = None
    operator: str | None = None
    steps: tuple[Annotated[float, Field(strict=True, allow_inf_nan=False)], ...] = ()
    """Shaft speeds in the order they are run; step 1 is the first [rpm]."""
    rig: Snapshot | None = None
    rated: Snapshot | None = None
    method: Snapshot | None = None
    rule: Snapshot | None = None
    instruments: dict[str, InstrumentFacts] = {}
    host: dict[str, str] = {}
    """The computer, and how far the bench's time was ahead of UTC (`bench_time.UTC_OFFSET`)."""

    model_config = ConfigDict(frozen=True, extra="allow", populate_by_name=True)

    @field_validator("began_utc", "ended_utc")
    @classmethod
    def _is_a_time(cls, value: str | None) -> str | None:
        if value is not None:
            utc_of(value)
        return value

    @model_validator(mode="after")
    def _ended_when_not_running(self) -> RunHeader:
        if (self.state == "running") != (self.ended_utc is None):
            raise ValueError("ended_utc stands in a run that has ended, and only there")
        return self

    @classmethod
    def known_keys(cls) -> list[str]:
        """Every key that stands in a run.json of this schema."""
        return [field.alias or name for name, field in cls.model_fields.items()]

    def table(self) -> dict[str, Any]:
        """The keys as run.json has them."""
        return self.model_dump(mode="json", by_alias=True)

    def as_bytes(self) -> bytes:
        """The file's content."""
        return many_lines(self.table())

    def changed(self, **keys: object) -> RunHeader:
        """The same header with some keys changed, checked again."""
        return RunHeader.model_validate({**self.table(), **keys})

    @property
    def title(self) -> str:
        """What to call the run: its serial, else its unit, else its folder."""
        return self.serial or self.unit or self.run_id

    @property
    def utc_offset(self) -> timedelta | None:
        """How far the bench's time was ahead of UTC as the run began; None where not recorded."""
        return offset_from(self.host.get(UTC_OFFSET))

    @property
    def began_day(self) -> date:
        """The day it began: the bench's, or that of UTC where its offset is not recorded."""
        return day_at_bench(self.began_utc, self.utc_offset)

    @property
    def began_words(self) -> str:
        """When it began on the bench's clock, as in `2026-11-25 09:15 (UTC+1)`."""
        return moment_words(self.began_utc, self.utc_offset)

    @property
    def label(self) -> str | None:
        """What the folder is called after: job, else unit, else serial."""
        return self.job.number or self.unit or self.serial


def header_from(path: Path, table: object) -> RunHeader:
    """Check what run.json held.

    Raises:
        RunFileError: With every problem, by key.
    """
    table = up_to_date(path, table, steps=RUN_STEPS)
    missing = [key for key in RunHeader.known_keys() if key not in table]
    if missing:
        raise RunFileError(
            path, f"has no {listed(missing, joint='and')}.", what_to_do="Fetch it from a copy."
        )
    try:
        return RunHeader.model_validate(table)
    except ValidationError as error:
        wrong = "; ".join(_sentence(dict(one)) for one in error.errors()[:10])
        raise RunFileError(
            path, f"cannot be used: {wrong}.", what_to_do="Fetch the run again from a copy."
        ) from error


def header_from_bytes(path: Path, data: bytes) -> RunHeader:
    """Check the bytes of a run.json that were read already."""
    try:
        table = parse(data)
    except ValueError as error:
        raise RunFileError(
            path, f"cannot be read: {error}.", what_to_do="Fetch the run again from a copy."
        ) from error
    return header_from(path, table)


def read_header(folder: Path) -> RunHeader:
    """Read run.json of a run folder.

    Raises:
        RunFileError: If it is missing or cannot be used.
    """
    path = folder / RUN_FILE
    if folder.is_dir() and not path.exists():
        raise RunFileError(
            folder,
            "is not a run: there is no run.json in it.",
            what_to_do="`steadyamps shelf list` shows the runs; where the folder is empty, a run"
            " never began.",
        )
    return header_from(path, read_json(path))


def _sentence(error: Mapping[str, Any]) -> str:
    key = ".".join(str(part) for part in error["loc"])
    words = visible(str(error["msg"]).removeprefix("Value error, "))
    return f"{key}: {words}" if key else words


def this_host() -> dict[str, str]:
    """The computer, for `host`."""
    return {
        "name": platform.node(),
        "system": f"{platform.system()} {platform.release()}",
        "machine": platform.machine(),
        "python": platform.python_version(),
    }
