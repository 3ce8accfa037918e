"""VXI-11 and HiSLIP instruments on the loopback address: the real protocols, one line in, one line out.

VXI-11 is revision 1.0 of the VXIbus Consortium over ONC remote procedure calls (RFC 5531, XDR of
RFC 4506); HiSLIP is IVI-6.1 revision 1.1. Message numbers and layouts from memory; the driver that
speaks to them is another's, so a slip would show.
"""

from __future__ import annotations

import socket
import struct
import threading
from collections.abc import Callable
from typing import Self

Do = Callable[[str], str | None]
LOOPBACK = "127.0.0.1"


class Server:
    """Accepts connections and serves each in a thread; `hang_up` cuts all of them."""

    def __init__(self, do: Do) -> None:
        self._do = do
        self._listening = socket.create_server((LOOPBACK, 0))
        self.port: int = self._listening.getsockname()[1]
        self._wires: list[socket.socket] = []
        self._open = True
        threading.Thread(target=self._accept, daemon=True).start()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._open = False
        self._listening.close()
        self.hang_up()

    def hang_up(self) -> None:
        for wire in self._wires:
            try:
                wire.shutdown(socket.SHUT_RDWR)
            except OSError:
                continue
        self._wires.clear()

    def _accept(self) -> None:
        while self._open:
            try:
                wire, _ = self._listening.accept()
            except OSError:
                return
            wire.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self._wires.append(wire)
            threading.Thread(target=self._run, args=(wire,), daemon=True).start()

    def _run(self, wire: socket.socket) -> None:
        try:
            with wire:
                self.serve(wire)
        except OSError:
            return

    def serve(self, wire: socket.socket) -> None:
        raise NotImplementedError


def exactly(wire: socket.socket, count: int) -> bytes:
    got = b""
    while len(got) < count:
        more = wire.recv(count - len(got))
        if not more:
            raise ConnectionResetError
        got += more
    return got


class HislipInstrument(Server):
    """Synchronous and asynchronous channel of one session."""

    HEADER = struct.Struct("!2sBBIQ")  # "HS", message type, control code, parameter, payload length

    @property
    def address(self) -> str:
        return f"TCPIP::{LOOPBACK}::hislip0,{self.port}::INSTR"

    def serve(self, wire: socket.socket) -> None:
        line = b""
        while True:
            prologue, kind, _, parameter, length = self.HEADER.unpack(exactly(wire, 16))
            assert prologue == b"HS"
            payload = exactly(wire, length)
            if kind == 0:  # Initialize → InitializeResponse: protocol 1.0, session 7
                self._send(wire, 1, 0x0100 << 16 | 7)
            elif kind == 17:  # AsyncInitialize
                self._send(wire, 18, 0)
            elif kind == 15:  # AsyncMaxMsgSize
                self._send(wire, 16, 0, struct.pack("!Q", 1 << 20))
            elif kind == 19:  # AsyncDeviceClear
                self._send(wire, 23, 0)
            elif kind == 8:  # DeviceClearComplete
                self._send(wire, 9, 0)
            elif kind == 21:  # AsyncStatusQuery
                self._send(wire, 22, 0)
            elif kind in (6, 7):  # Data, DataEnd
                line += payload
                if kind == 7:
                    answer = self._do(line.decode().strip())
                    line = b""
                    if answer is not None:
                        self._send(wire, 7, parameter, f"{answer}\n".encode())
            else:
                self._send(wire, 3, 0, b"unknown message")  # Error

    def _send(self, wire: socket.socket, kind: int, parameter: int, payload: bytes = b"") -> None:
        wire.sendall(self.HEADER.pack(b"HS", kind, 0, parameter, len(payload)) + payload)


class Vxi11Instrument(Server):
    """The core channel; no port mapper, the driver is told the port."""

    CREATE_LINK, WRITE, READ, DESTROY_LINK = 10, 11, 12, 23
    END = 4  # reason of a read that ended with the message

    @property
    def address(self) -> str:
        return f"TCPIP::{LOOPBACK},{self.port}::inst0::INSTR"

    def serve(self, wire: socket.socket) -> None:
        answers: list[bytes] = []
        while True:
            (mark,) = struct.unpack("!I", exactly(wire, 4))
            call = exactly(wire, mark & 0x7FFFFFFF)
            xid, kind, version, program, _, procedure = struct.unpack("!6I", call[:24])
            assert (kind, version, program) == (0, 2, 0x0607AF)
            at = 24
            for _ in range(2):  # credentials and verifier
                at += 8 + struct.unpack("!I", call[at + 4 : at + 8])[0]
            result = self._call(procedure, call[at:], answers)
            reply = struct.pack("!6I", xid, 1, 0, 0, 0, 0) + result
            wire.sendall(struct.pack("!I", 0x80000000 | len(reply)) + reply)

    def _call(self, procedure: int, arguments: bytes, answers: list[bytes]) -> bytes:
        if procedure == self.CREATE_LINK:
            return struct.pack("!4I", 0, 1, 0, 4096)  # link 1, messages up to 4096 bytes
        if procedure == self.WRITE:
            (size,) = struct.unpack("!I", arguments[16:20])
            answer = self._do(arguments[20 : 20 + size].decode().strip())
            if answer is not None:
                answers.append(f"{answer}\n".encode())
            return struct.pack("!2I", 0, size)
        if procedure == self.READ:
            if not answers:
                return struct.pack("!3I", 15, 0, 0)  # I/O time-out
            data = answers.pop(0)
            return struct.pack("!3I", 0, self.END, len(data)) + data + bytes(-len(data) % 4)
        return struct.pack("!I", 0 if procedure == self.DESTROY_LINK else 8)
