"""Servers in processes of their own, started in no time: `python -m tests.viewer.server.serve`.

The program is loaded, and its kernels are run, once; each line of JSON on standard input forks a
server, which says its process id and, once it answers, its address. So a test may kill one twenty
times and not wait twenty times for the imports.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import httpx
import uvicorn

from mapper.surface import warm
from mapper.viewer.serve import serve
from mapper.viewer.server import glance
from mapper.viewer.server.app import make_app
from mapper.viewer.server.helper import Helper
from tests.viewer.ports import free_port
from tests.viewer.server.talk import TOKEN

ENDED = "ended"


class Mother:
    """The test's side of the process that forks servers, one at a time."""

    def __init__(self, **environment: str) -> None:
        self.pid = 0  # of the server that runs, else 0
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.viewer.server.serve"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, **environment},
        )

    def bear(self, folder: Path, port: int, *, token: str = "") -> str:
        """A server of the shop in a folder; what it said when it answered, or "ended".

        token: what changes must carry; without one it is served as `mapper serve` does, whose
        token is a new one each time.
        """
        asked = {"folder": str(folder), "port": port, "token": token}
        self._process.stdin.write(json.dumps(asked) + "\n")  # type: ignore[union-attr]
        self._process.stdin.flush()  # type: ignore[union-attr]
        self.pid = int(self._heard())
        said = self._heard()
        if said == ENDED:
            self.pid = 0
        return said

    def end(self, how: int = signal.SIGKILL) -> None:
        """End the server that runs now; come back when it is gone."""
        if self.pid:
            os.kill(self.pid, how)
            while self._heard() != ENDED:
                pass
            self.pid = 0

    def _heard(self) -> str:
        line = self._process.stdout.readline()  # type: ignore[union-attr]
        assert line, "the process that forks servers has ended"
        return line.strip()

    def close(self) -> None:
        """End everything."""
        with contextlib.suppress(ProcessLookupError):
            if self.pid:
                os.kill(self.pid, signal.SIGKILL)
        self._process.kill()
        self._process.communicate()


class Servers:
    """A server at one address, started and killed as often as a test likes."""

    def __init__(self, folder: Path, **environment: str) -> None:
        self.folder, self.port = folder, free_port()
        self.address = f"http://127.0.0.1:{self.port}"
        self.ours = {"origin": self.address, "x-mapper-token": TOKEN}
        self._mother = Mother(**environment)

    @property
    def pid(self) -> int:
        """Process id of the server that runs now."""
        return self._mother.pid

    def start(self) -> None:
        """Come back when it answers."""
        said = self._mother.bear(self.folder, self.port, token=TOKEN)
        assert self.address in said, said
        assert httpx.get(f"{self.address}/api/start", timeout=300).status_code == 200

    def kill(self, how: int = signal.SIGKILL) -> None:
        """End the server that runs now."""
        self._mother.end(how)

    def close(self) -> None:
        """End everything."""
        self._mother.close()


def say(words: Any) -> None:
    """One line to the test."""
    print(words, flush=True)


class Spoken(uvicorn.Server):
    """Says its address when it answers."""

    async def startup(self, sockets: Any = None) -> None:
        await super().startup(sockets)
        if self.started:
            say(f"http://127.0.0.1:{self.config.port}/")


def serve_quickly(folder: Path, port: int, token: str) -> None:
    """The application alone, with a token that the test knows."""
    app = make_app(folder, port=port, token=token)
    config = uvicorn.Config(
        app,
        host="127.0.0.1",
        port=port,
        log_level="error",
        lifespan="off",
        timeout_graceful_shutdown=3,
    )
    Spoken(config).run()


def main() -> None:
    """Fork a server for each line; bury it, and say so, when it ends."""
    glance.QUIET = glance.LATEST = 1e9  # areas at a glance have their own test, and a slow start
    Helper.wake = lambda self: None  # type: ignore[method-assign]  # shapes are mostly made already
    warm.warm()
    for line in sys.stdin:
        asked = json.loads(line)
        child = os.fork()
        if child == 0:
            say(os.getpid())
            try:
                if asked["token"]:
                    serve_quickly(Path(asked["folder"]), asked["port"], asked["token"])
                else:
                    serve(Path(asked["folder"]), port=asked["port"], ready=say)
            except Exception as error:  # told by the test that waits for the address
                print(repr(error), file=sys.stderr, flush=True)
                os._exit(1)
            os._exit(0)
        os.waitpid(child, 0)
        say(ENDED)


if __name__ == "__main__":
    main()
