"""A small HTTP client that asks as fast as it is answered: kept connections, one process each, nothing parsed twice."""

from __future__ import annotations

import multiprocessing
import socket
import time
from collections.abc import Sequence
from dataclasses import dataclass

# Where there are but as many as workers, one worker may get them all while the other idles.
CONNECTIONS = 8


class Client:
    """One kept connection to a server of this machine."""

    def __init__(self, port: int) -> None:
        self.socket = socket.create_connection(("127.0.0.1", port), timeout=120)
        self.socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self.rest = b""

    def ask(self, request: bytes) -> tuple[int, bytes, bytes]:
        """Send a request and return status, head and body of the answer."""
        self.socket.sendall(request)
        data = self.rest
        while (end := data.find(b"\r\n\r\n")) < 0:
            data += self._more()
        head, body = data[:end].lower(), data[end + 4 :]
        status = int(head[9:12])
        length = 0 if status == 304 else int(head.partition(b"content-length:")[2].partition(b"\r\n")[0])
        while len(body) < length:
            body += self._more()
        self.rest = body[length:]
        return status, data[:end], body[:length]

    def _more(self) -> bytes:
        part = self.socket.recv(262_144)
        if not part:
            raise ConnectionError("the server closed the connection")
        return part


def request_for(address: str, **headers: str) -> bytes:
    lines = [
        f"GET {address} HTTP/1.1",
        "Host: 127.0.0.1",
        *(f"{key.replace('_', '-')}: {headers[key]}" for key in headers),
    ]
    return ("\r\n".join(lines) + "\r\n\r\n").encode()


@dataclass(frozen=True, slots=True)
class Load:
    """What a load came to: requests a second over all connections, the seconds of each, statuses seen."""

    per_second: float
    seconds: tuple[float, ...]
    statuses: frozenset[int]


def _worker(port: int, requests: Sequence[bytes], duration: float, start: int, results: multiprocessing.Queue) -> None:
    client, seconds, statuses = Client(port), [], set()
    place, until = start, time.perf_counter() + duration
    begin = time.perf_counter()
    while (now := time.perf_counter()) < until:
        status, _, _ = client.ask(requests[place % len(requests)])
        seconds.append(time.perf_counter() - now)
        statuses.add(status)
        place += 1
    results.put((len(seconds) / (time.perf_counter() - begin), seconds, statuses))


def load(
    port: int, requests: Sequence[bytes], *, duration: float = 1.5, connections: int = CONNECTIONS, start: int = 0
) -> Load:
    """Ask for these addresses in turn, on every connection from another place of the list."""
    results: multiprocessing.Queue = multiprocessing.Queue()
    step = max(1, len(requests) // connections)
    workers = [
        multiprocessing.Process(target=_worker, args=(port, requests, duration, start + step * number, results))
        for number in range(connections)
    ]
    for worker in workers:
        worker.start()
    found = [results.get(timeout=300) for _ in workers]
    for worker in workers:
        worker.join()
    return Load(
        sum(rate for rate, _, _ in found),
        tuple(second for _, seconds, _ in found for second in seconds),
        frozenset(status for _, _, statuses in found for status in statuses),
    )
