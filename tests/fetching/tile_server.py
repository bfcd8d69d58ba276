"""A server of tiles on the loopback address, with faults: run as a process of its own.

``python tile_server.py FOLDER`` prints its port. What is below FOLDER is served, with ranges and
``ETag``. ``FOLDER/faults.json`` says what to do wrong for a path that contains a word; requests
are written to ``FOLDER/requests.jsonl``.
"""

from __future__ import annotations

import hashlib
import json
import re
import sys
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

ROOT = Path(sys.argv[1]) if len(sys.argv) > 1 else Path()
SEEN: dict[str, int] = {}
LOCK = threading.Lock()
OPEN = [0, 0]
DROPS_ONCE = ("drop once", "changed", "changed unseen", "no piece", "other piece")


class Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"

    def log_message(self, *_: object) -> None:
        return

    def do_HEAD(self) -> None:
        self.answer(body=False)

    def do_GET(self) -> None:
        self.counted = True
        with LOCK:
            OPEN[0] += 1
            OPEN[1] = max(OPEN)
        try:
            self.answer(body=True)
        except (BrokenPipeError, ConnectionResetError):
            self.close_connection = True
        finally:
            self.ends()

    def ends(self) -> None:
        """Count the connection no longer: its last bytes may be read before we are done here."""
        with LOCK:
            OPEN[0] -= self.counted
            self.counted = False

    def fault(self) -> str:
        faults = json.loads((ROOT / "faults.json").read_text("utf-8"))
        return next((fault for word, fault in faults.items() if word in self.path), "")

    def answer(self, *, body: bool) -> None:
        fault = self.fault()
        with LOCK:
            SEEN[self.path] = SEEN.get(self.path, 0) + 1
            time_asked = SEEN[self.path]
            with (ROOT / "begun").open("a") as begun:
                begun.write(".")
        file = ROOT / self.path.lstrip("/")
        self.told = {
            "path": self.path, "range": self.headers.get("Range", ""),
            "if_range": self.headers.get("If-Range", ""), "status": 0, "sent": 0,
            "agent": self.headers.get("User-Agent", ""), "at": time.monotonic(),
        }  # fmt: skip
        try:
            if fault == "slow":
                time.sleep(0.3)
            looks_only = self.headers.get("Range", "") == "bytes=0-15"
            if fault == "hang" or (fault == "hang later" and not looks_only):
                time.sleep(20.0)
            elif fault.startswith("status "):
                self.plain(int(fault.split()[1]))
            elif fault == "redirect elsewhere":
                self.plain(302, Location=f"http://localhost:9/{self.path}")
            elif fault == "redirect here" and "moved" not in self.path:
                self.plain(302, Location=f"/moved{self.path}")
            elif fault.startswith("busy") and (time_asked == 1 or "long" in fault):
                self.plain(429, **{"Retry-After": "86400" if "long" in fault else "3"})
            elif fault == "gone":
                self.plain(404)
            else:
                path = ROOT / self.path.removeprefix("/moved/").lstrip("/")
                self.give(path if "moved" in self.path else file, fault, time_asked, body=body)
        finally:
            with LOCK, (ROOT / "requests.jsonl").open("a", encoding="utf-8") as log:
                log.write(json.dumps({**self.told, "most_open": OPEN[1]}) + "\n")

    def plain(self, status: int, **headers: str) -> None:
        self.told["status"] = status
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name, value)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def give(self, file: Path, fault: str, time_asked: int, *, body: bool) -> None:
        if not file.is_file():
            self.plain(404)
            return
        content = file.read_bytes()
        tag = hashlib.md5(content, usedforsecurity=False).hexdigest()
        if fault.startswith("changed"):
            tag += f"-{time_asked}"
        tag = f'"{tag}"'
        first, last = 0, len(content) - 1
        asked = re.fullmatch(r"bytes=(\d+)-(\d*)", self.headers.get("Range", ""))
        condition = self.headers.get("If-Range", tag)
        kept = condition == tag or fault == "changed unseen"
        partial = asked is not None and kept and fault != "no ranges"
        if partial and asked is not None:
            first = int(asked.group(1))
            last = min(int(asked.group(2) or last), last)
            if first >= len(content) or (fault == "no piece" and first):
                self.plain(416)
                return
        part = content[first : last + 1]
        self.told["status"] = 206 if partial else 200
        self.send_response(206 if partial else 200)
        kind = "text/html" if fault == "wrong type" else "image/tiff"
        self.send_header("Content-Type", kind)
        self.send_header("ETag", tag)
        self.send_header("Accept-Ranges", "bytes")
        if partial:
            said = first + 7 if fault == "other piece" and first else first
            self.send_header("Content-Range", f"bytes {said}-{last}/{len(content)}")
        if fault == "gzip":
            self.send_header("Content-Encoding", "gzip")
        if fault in ("cut short", "endless"):
            # The end of the body is the end of the connection.
            self.close_connection = True
            self.send_header("Connection", "close")
        elif fault == "huge":
            self.send_header("Content-Length", str(10**11))
        else:
            self.send_header("Content-Length", str(len(part)))
        self.end_headers()
        if body:
            self.send_body(part, fault, time_asked)

    def send_body(self, part: bytes, fault: str, time_asked: int) -> None:
        first = time_asked == 1
        drops = fault == "drop always" or (fault == "drop later" and len(part) > 16)
        drops = drops or (fault in DROPS_ONCE and first)
        if fault == "endless":
            for _ in range(20_000):
                self.write(bytes(1_000_000))
        elif drops or fault == "cut short":
            self.write(part[: len(part) // 2])
            self.close_connection = True
        elif fault == "slow":
            for i in range(0, len(part), 20_000):
                time.sleep(0.05)
                if i + 20_000 >= len(part):
                    self.ends()
                self.write(part[i : i + 20_000])
        else:
            self.write(part)

    def write(self, data: bytes) -> None:
        self.wfile.write(data)
        self.wfile.flush()
        self.told["sent"] += len(data)


if __name__ == "__main__":
    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    print(server.server_address[1], flush=True)
    server.serve_forever()
