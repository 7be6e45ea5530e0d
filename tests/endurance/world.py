"""A world whose time is computed: the program's own threads, one at a time, no waiting.

Each thread is a real one, but only the holder of the baton runs; it hands the baton on where it
would wait. When everybody waits, time jumps to the next moment at which somebody is due. So a
day of the bench takes minutes, and the same seed gives the same day. Now and then the baton is
handed on at a lock, by chance, so that threads also meet in unlikely orders.
"""

from __future__ import annotations

import heapq
import itertools
import random
import threading
from collections import deque
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from queue import Empty
from types import TracebackType
from typing import Generic, TypeVar

T = TypeVar("T")

HAND_ON_SHARE = 0.02
"""How often a thread that takes a lock lets others go first."""
LEAST_S = 1e-7
"""No wait is shorter: time moves on whenever somebody waits for it [s]."""
FIRST_UTC = datetime(2026, 11, 26, 6, 0, tzinfo=UTC)


class Killed(BaseException):
    """The program was killed: no line of it runs any more."""


class Stuck(AssertionError):
    """Every thread waits for something that never comes."""


class Task:
    """One thread of the program."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.baton = threading.Lock()
        self.baton.acquire()
        self.turn = 0
        self.blocked = False
        self.woken = False
        self.over = False
        self.joining: list[Task] = []
        self.error: BaseException | None = None


class World:
    """Time, and who runs."""

    pace = 1.0

    def __init__(self, seed: object, utc: datetime = FIRST_UTC) -> None:
        self.now_s = 0.0
        self.killed = False
        self.jumped_s = 0.0
        """How far the wall clock was set [s]."""
        self.random = random.Random(f"world {seed}")
        self._utc = utc
        self._order = itertools.count()
        self._timers: list[tuple[float, int, Task | Callable[[], None], int]] = []
        self._ready: deque[Task] = deque()
        self._main = self._current = Task("operator")
        self.tasks: list[Task] = [self._main]

    # ---- a clock ---------------------------------------------------------------------------

    def monotonic_s(self) -> float:
        return self.now_s

    monotonic = monotonic_s
    """As the module `time` calls it."""

    def time_ns(self) -> int:
        return int(self.utc().timestamp() * 1e9)

    def utc(self) -> datetime:
        return self._utc + timedelta(seconds=self.now_s + self.jumped_s)

    def utc_offset(self) -> timedelta:
        return timedelta()

    def sleep_s(self, seconds: float) -> None:
        self.block(max(seconds, 0.0))

    sleep = sleep_s

    # ---- the timetable ---------------------------------------------------------------------

    def at(self, t_s: float, act: Callable[[], None]) -> None:
        """Have `act` done at `t_s`; it must not wait."""
        heapq.heappush(self._timers, (max(t_s, self.now_s), next(self._order), act, 0))

    @property
    def current(self) -> Task:
        """Who runs."""
        return self._current

    @property
    def alive(self) -> list[str]:
        """Names of the threads that have not ended, apart from the operator's."""
        return [task.name for task in self.tasks if task is not self._main and not task.over]

    # ---- handing on ------------------------------------------------------------------------

    def start(self, task: Task, run: Callable[[], None]) -> None:
        """Let another thread begin."""

        def body() -> None:
            task.baton.acquire()
            try:
                if not self.killed:
                    run()
            except Killed:
                pass
            except BaseException as error:  # noqa: BLE001 - told by whoever runs the world
                task.error = error
            task.over = True
            for one in task.joining:
                self.wake(one)
            self._pick().baton.release()

        self.tasks.append(task)
        self._ready.append(task)
        threading.Thread(target=body, name=f"world {task.name}", daemon=True).start()

    def block(self, timeout_s: float | None = None) -> bool:
        """Wait for `wake`; False when the time was over first."""
        if self.killed:
            raise Killed
        task = self._current
        task.turn += 1
        task.blocked, task.woken = True, False
        if timeout_s is not None:
            due_s = self.now_s + max(timeout_s, LEAST_S)
            heapq.heappush(self._timers, (due_s, next(self._order), task, task.turn))
        self._hand_on(task)
        return task.woken

    def wake(self, task: Task) -> None:
        """End a wait."""
        if task.blocked:
            task.blocked, task.woken = False, True
            self._ready.append(task)

    def let_others(self) -> None:
        """Go behind those who are ready, by chance."""
        if self.killed:
            raise Killed
        if self._ready and self.random.random() < HAND_ON_SHARE:
            task = self._current
            self._ready.append(task)
            self._hand_on(task)

    def _hand_on(self, task: Task) -> None:
        chosen = self._pick()
        if chosen is not task:
            chosen.baton.release()
            task.baton.acquire()
        if self.killed:
            raise Killed

    def _pick(self) -> Task:
        while not self._ready:
            if self.killed:
                self._current = self._main
                return self._main
            if not self._timers:
                waiting = ", ".join(task.name for task in self.tasks if task.blocked)
                self.killed = True
                self._main.error = Stuck(f"nothing will ever happen again; waiting: {waiting}")
                continue
            due_s, _, what, turn = heapq.heappop(self._timers)
            if isinstance(what, Task):
                if what.blocked and what.turn == turn:
                    self.now_s = max(self.now_s, due_s)
                    what.blocked = False
                    self._ready.append(what)
            else:
                self.now_s = max(self.now_s, due_s)
                what()
        self._current = self._ready.popleft()
        return self._current

    # ---- being killed ----------------------------------------------------------------------

    def kill(self) -> None:
        """End the program at this instant: whoever waits or comes to a lock never goes on."""
        self.killed = True

    def bury(self) -> None:
        """In the operator's thread, after `Killed`: let every other thread end."""
        while self.alive:
            task = next(t for t in self.tasks if t is not self._main and not t.over)
            self._ready.clear()
            task.blocked = False
            self._current = task
            self._main.blocked = False
            task.baton.release()
            self._main.baton.acquire()
        self._ready.clear()
        self._current = self._main
        self._timers = [one for one in self._timers if not isinstance(one[2], Task)]
        heapq.heapify(self._timers)
        self.tasks = [self._main]
        self.killed = False

    def forget_the_dead(self) -> None:
        """Drop threads that have ended."""
        self.tasks = [task for task in self.tasks if task is self._main or not task.over]

    def stuck(self) -> BaseException | None:
        """What went wrong with the world itself."""
        return self._main.error


class Lock:
    """As `threading.Lock` and `RLock`."""

    def __init__(self, world: World) -> None:
        self._world = world
        self._owner: Task | None = None
        self._depth = 0
        self._waiting: deque[Task] = deque()

    def acquire(self, blocking: bool = True, timeout: float = -1) -> bool:
        world = self._world
        world.let_others()
        me = world.current
        if self._owner is me:
            self._depth += 1
            return True
        while self._owner is not None:
            if not blocking:
                return False
            self._waiting.append(me)
            world.block()
        self._owner, self._depth = me, 1
        return True

    def release(self) -> None:
        self._depth -= 1
        if self._depth <= 0:
            self._owner = None
            if self._waiting:
                self._world.wake(self._waiting.popleft())

    def __enter__(self) -> bool:
        return self.acquire()

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.release()


class Event:
    """As `threading.Event`."""

    def __init__(self, world: World) -> None:
        self._world = world
        self._is_set = False
        self._waiting: list[Task] = []

    def is_set(self) -> bool:
        return self._is_set

    def set(self) -> None:
        self._is_set = True
        waiting, self._waiting = self._waiting, []
        for task in waiting:
            self._world.wake(task)

    def clear(self) -> None:
        self._is_set = False

    def wait(self, timeout: float | None = None) -> bool:
        if self._world.killed:
            raise Killed
        if not self._is_set:
            me = self._world.current
            self._waiting.append(me)
            self._world.block(timeout)
            if me in self._waiting:
                self._waiting.remove(me)
        return self._is_set


class Condition:
    """As `threading.Condition`, with a lock of its own."""

    def __init__(self, world: World) -> None:
        self._world = world
        self._lock = Lock(world)
        self._waiting: list[Task] = []

    def __enter__(self) -> bool:
        return self._lock.acquire()

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._lock.release()

    def wait(self, timeout: float | None = None) -> bool:
        me = self._world.current
        self._waiting.append(me)
        self._lock.release()
        try:
            woken = self._world.block(timeout)
        finally:
            if me in self._waiting:
                self._waiting.remove(me)
        self._lock.acquire()
        return woken

    def wait_for(self, predicate: Callable[[], bool], timeout: float | None = None) -> bool:
        until_s = None if timeout is None else self._world.now_s + timeout
        while not predicate():
            left_s = None if until_s is None else until_s - self._world.now_s
            if left_s is not None and left_s <= 0:
                return False
            self.wait(left_s)
        return True

    def notify_all(self) -> None:
        waiting, self._waiting = self._waiting, []
        for task in waiting:
            self._world.wake(task)


class SimpleQueue(Generic[T]):
    """As `queue.SimpleQueue`."""

    def __init__(self, world: World) -> None:
        self._world = world
        self._items: deque[T] = deque()
        self._waiting: deque[Task] = deque()

    def qsize(self) -> int:
        return len(self._items)

    def put(self, item: T) -> None:
        self._items.append(item)
        if self._waiting:
            self._world.wake(self._waiting.popleft())

    def get_nowait(self) -> T:
        if not self._items:
            raise Empty
        return self._items.popleft()

    def get(self, timeout: float | None = None) -> T:
        self._world.let_others()
        if not self._items:
            me = self._world.current
            self._waiting.append(me)
            self._world.block(timeout)
            if me in self._waiting:
                self._waiting.remove(me)
        return self.get_nowait()


class Thread:
    """As `threading.Thread`."""

    def __init__(
        self,
        world: World,
        target: Callable[[], object],
        *,
        name: str = "thread",
        daemon: bool = True,
    ) -> None:
        del daemon
        self._world = world
        self._target = target
        self.task = Task(name)
        self.ident: int | None = None

    def start(self) -> None:
        if self._world.killed:
            raise Killed
        self.ident = id(self)
        self._world.start(self.task, self._run)

    def _run(self) -> None:
        self._target()

    def is_alive(self) -> bool:
        return self.ident is not None and not self.task.over

    def join(self, timeout: float | None = None) -> None:
        world, until_s = self._world, None
        if timeout is not None:
            until_s = world.now_s + timeout
        while self.is_alive():
            left_s = None if until_s is None else until_s - world.now_s
            if left_s is not None and left_s <= 0:
                break
            self.task.joining.append(world.current)
            world.block(left_s)


class Threading:
    """What the program uses of the module `threading`."""

    def __init__(self, world: World) -> None:
        self._world = world

    def Lock(self) -> Lock:  # noqa: N802 - named as in the module it stands for
        return Lock(self._world)

    RLock = Lock

    def Event(self) -> Event:  # noqa: N802
        return Event(self._world)

    def Condition(self) -> Condition:  # noqa: N802
        return Condition(self._world)

    def Thread(  # noqa: N802
        self, target: Callable[[], object], *, name: str = "thread", daemon: bool = True
    ) -> Thread:
        return Thread(self._world, target, name=name, daemon=daemon)

    def current_thread(self) -> Task:
        return self._world.current
