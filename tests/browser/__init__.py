"""A browser without a screen: it names the host it asks, its port, and the page it comes from, as browsers do."""

from typing import Any

from django.test import Client

PORT = "8765"


class Browser(Client):
    """A client whose requests reach our port. Whatever is said when it is made or in a call stands above its own."""

    def __init__(self, host: str = "127.0.0.1", **more: Any) -> None:
        told = {
            "HTTP_HOST": f"{host}:{PORT}",
            "HTTP_ORIGIN": f"http://{host}:{PORT}",
            "SERVER_NAME": "waitress.invalid",
        }
        super().__init__(**told | more)

    def generic(self, *args: Any, **extra: Any) -> Any:
        """Any request: the port is told with each, because the client of the tests would say 80."""
        return super().generic(*args, **{"SERVER_PORT": self.defaults.get("SERVER_PORT", PORT)} | extra)
