"""What others record, told as it happens: one look at the history for all who listen.

Server-sent events. Each message is a `Changes`; a "beat" every few seconds says that the way is
still there.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass, field

EVERY = 0.2  # seconds between looks at the history
BEAT = 5.0
MOST_WAITING = 500  # messages that one who does not read them is kept
MOST_LISTENERS = 100


@dataclass(frozen=True)
class Message:
    """A `Changes` as JSON, up to row `seq`. extra: it may be missed, it carries no row."""

    seq: int
    data: bytes
    extra: bool = False


@dataclass(eq=False)
class Listener:
    """One page that listens to one job."""

    job_id: str
    loop: asyncio.AbstractEventLoop
    queue: asyncio.Queue[Message | None] = field(
        default_factory=lambda: asyncio.Queue(MOST_WAITING)
    )

    def put(self, message: Message) -> None:
        """Called in the loop: one who is too slow is let go, and asks again for what it missed."""
        try:
            self.queue.put_nowait(message)
        except asyncio.QueueFull:
            while not self.queue.empty():
                self.queue.get_nowait()
            self.queue.put_nowait(None)


class Feed:
    """All who listen, and the look at the history they share."""

    def __init__(self) -> None:
        self._listeners: set[Listener] = set()
        self._watch: asyncio.Task[None] | None = None

    def __len__(self) -> int:
        return len(self._listeners)

    def publish(self, job_id: str, message: Message) -> None:
        """Give a message to all who listen to a job; from any thread."""
        for listener in list(self._listeners):
            if listener.job_id == job_id:
                with contextlib.suppress(RuntimeError):  # its loop is closed
                    listener.loop.call_soon_threadsafe(listener.put, message)

    def listen(self, job_id: str, look: Callable[[], None]) -> Listener:
        """Begin to listen; look() takes in what is new in the history, called in a thread as long
        as anybody listens. Called in the loop."""
        listener = Listener(job_id, asyncio.get_running_loop())
        self._listeners.add(listener)
        if self._watch is None or self._watch.done():
            self._watch = asyncio.create_task(self._looking(look))
        return listener

    def leave(self, listener: Listener) -> None:
        """Listen no more."""
        self._listeners.discard(listener)

    async def _looking(self, look: Callable[[], None]) -> None:
        while self._listeners:
            # A locked or full disk passes; whoever listens is not to be told.
            with contextlib.suppress(Exception):
                await asyncio.to_thread(look)
            await asyncio.sleep(EVERY)

    def close(self) -> None:
        """Send everybody away; from the loop."""
        for listener in list(self._listeners):
            listener.queue.put_nowait(None)


async def stream(
    feed: Feed, listener: Listener, seq: int, first: Message | None
) -> AsyncIterator[bytes]:
    """The lines of one page's stream, from row `seq` on; first: what it missed before it came."""
    try:
        yield b"retry: 1000\n\n"
        if first is not None:
            seq = first.seq
            yield line(first)
        while True:
            try:
                message = await asyncio.wait_for(listener.queue.get(), BEAT)
            except TimeoutError:
                yield b"event: beat\ndata: \n\n"
                continue
            if message is None:
                return
            if message.extra or message.seq > seq:
                seq = max(seq, message.seq)
                yield line(message)
    finally:
        feed.leave(listener)


def line(message: Message) -> bytes:
    """A message as server-sent events write it: JSON has no line breaks of its own here."""
    return b"id: %d\ndata: %s\n\n" % (message.seq, message.data)
