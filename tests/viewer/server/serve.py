"""Servers in processes of their own, started in no time: `python -m tests.viewer.server.serve`.

The program is loaded once; each line "FOLDER PORT" on standard input forks a server, whose process
id is printed. So a test may kill one twenty times and not wait twenty times for the imports.
"""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import httpx
import uvicorn

from mapper.viewer.server import glance
from mapper.viewer.server.app import make_app
from tests.viewer.server.talk import TOKEN


def free_port() -> int:
    """A port that nothing listens at now."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


class Servers:
    """The test's side: a server at one address, started and killed as often as it likes."""

    def __init__(self, folder: Path, **environment: str) -> None:
        self.folder, self.port = folder, free_port()
        self.address = f"http://127.0.0.1:{self.port}"
        self.ours = {"origin": self.address, "x-mapper-token": TOKEN}
        self.pid = 0
        self._mother = subprocess.Popen(
            [sys.executable, "-m", "tests.viewer.server.serve"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, **environment},
        )

    def start(self) -> None:
        """Come back when it answers."""
        self._mother.stdin.write(f"{self.folder} {self.port}\n")  # type: ignore[union-attr]
        self._mother.stdin.flush()  # type: ignore[union-attr]
        self.pid = int(self._mother.stdout.readline())  # type: ignore[union-attr]
        for _ in range(600):
            with contextlib.suppress(httpx.HTTPError):
                if httpx.get(f"{self.address}/api/start", timeout=5).status_code == 200:
                    return
            time.sleep(0.05)
        raise AssertionError("the server does not answer")

    def kill(self, how: int = signal.SIGKILL) -> None:
        """End the server that runs now."""
        os.kill(self.pid, how)
        self._mother.stdout.readline()  # type: ignore[union-attr]  # the mother has buried it

    def close(self) -> None:
        """End everything."""
        with contextlib.suppress(ProcessLookupError):
            if self.pid:
                os.kill(self.pid, signal.SIGKILL)
        self._mother.kill()
        self._mother.wait()


def main() -> None:
    """Fork a server for each line; bury it, and say so, when it ends."""
    glance.QUIET = glance.LATEST = 1e9  # areas at a glance have their own test, and a slow start
    for line in sys.stdin:
        folder, port = line.rsplit(" ", 1)
        child = os.fork()
        if child == 0:
            app = make_app(Path(folder), port=int(port), token=TOKEN)
            uvicorn.run(
                app,
                host="127.0.0.1",
                port=int(port),
                log_level="error",
                lifespan="off",
                timeout_graceful_shutdown=3,
            )
            os._exit(0)
        print(child, flush=True)
        os.waitpid(child, 0)
        print("ended", flush=True)


if __name__ == "__main__":
    main()
