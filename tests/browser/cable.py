"""A network cable that can be pulled: a forwarder between the browser and the server."""

import contextlib
import socket
import threading


class Cable:
    """Forwards connections on a port of its own to the server's port.

    `cut()` drops every connection and takes no new ones; `swallow_answers()` lets requests through
    and drops what the server says; `mend()` is as at the start.
    """

    def __init__(self, server_port: int) -> None:
        self.server_port = server_port
        self.is_cut = False
        self.swallows = False
        self._open: set[socket.socket] = set()
        self._lock = threading.Lock()
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = self._listener.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    @property
    def url(self) -> str:
        return f"http://localhost:{self.port}"

    def cut(self) -> None:
        self.is_cut = True
        self._drop_all()

    def swallow_answers(self) -> None:
        self.swallows = True
        self._drop_all()

    def mend(self) -> None:
        self._drop_all()
        self.is_cut = self.swallows = False

    def close(self) -> None:
        self._listener.close()
        self._drop_all()

    def _drop_all(self) -> None:
        with self._lock:
            dropped, self._open = self._open, set()
        for one in dropped:
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
            one.close()

    def _accept(self) -> None:
        while True:
            try:
                near, _ = self._listener.accept()
            except OSError:
                return
            if self.is_cut:
                near.close()
                continue
            try:
                far = socket.create_connection(("127.0.0.1", self.server_port), timeout=30)
            except OSError:
                near.close()
                continue
            with self._lock:
                self._open |= {near, far}
            threading.Thread(target=self._carry, args=(near, far, False), daemon=True).start()
            threading.Thread(target=self._carry, args=(far, near, True), daemon=True).start()

    def _carry(self, source: socket.socket, sink: socket.socket, is_answer: bool) -> None:
        with contextlib.suppress(OSError):
            while data := source.recv(65536):
                if is_answer and self.swallows:
                    continue
                sink.sendall(data)
        for one in (source, sink):
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
            one.close()
