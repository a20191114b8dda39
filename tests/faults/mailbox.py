"""A mail server of the test's own: takes every letter (RFC 5321's least) and keeps it."""

from __future__ import annotations

import socketserver
import threading


class Mailbox(socketserver.ThreadingTCPServer):
    allow_reuse_address = daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), Conversation)
        self.letters: list[str] = []
        threading.Thread(target=self.serve_forever, daemon=True).start()

    @property
    def env(self) -> dict[str, str]:
        """What a deployment would set."""
        return {"EMAIL_HOST": "127.0.0.1", "EMAIL_PORT": str(self.server_address[1])}


class Conversation(socketserver.StreamRequestHandler):
    server: Mailbox

    def handle(self) -> None:
        self.say("220 a test's mailbox")
        while line := self.rfile.readline():
            word = line[:4].upper()
            if word == b"DATA":
                self.say("354 go on")
                self.server.letters.append("".join(self.lines_to_the_dot()))
            self.say("221 bye" if word == b"QUIT" else "250 well")
            if word == b"QUIT":
                return

    def lines_to_the_dot(self) -> list[str]:
        lines = []
        while (line := self.rfile.readline()) and line.rstrip() != b".":
            lines.append(line.decode())
        return lines

    def say(self, words: str) -> None:
        self.wfile.write(f"{words}\r\n".encode())
