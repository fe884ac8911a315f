"""A private D-Bus daemon, in the place of the system's (Debian package dbus-daemon)."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path

PROGRAM = "dbus-daemon"
_CONFIG = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>system</type>
  <listen>unix:path={socket}</listen>
  <auth>EXTERNAL</auth>
  <policy context="default">
    <allow send_destination="*"/>
    <allow receive_sender="*"/>
    <allow own="*"/>
    <allow user="*"/>
  </policy>
</busconfig>
"""


def available() -> bool:
    """Whether the daemon is installed here."""
    return shutil.which(PROGRAM) is not None


class PrivateBus:
    """A bus of our own; ``address`` is what DBUS_SYSTEM_BUS_ADDRESS has to say."""

    def __init__(self) -> None:
        # not below a long path: a socket's name has 108 characters at most
        self._folder = Path(tempfile.mkdtemp(prefix="bus-"))
        config = self._folder / "bus.conf"
        config.write_text(_CONFIG.format(socket=self._folder / "bus"))
        self._process = subprocess.Popen(
            [PROGRAM, f"--config-file={config}", "--nofork", "--nopidfile", "--print-address=1"],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        assert self._process.stdout is not None
        # written once the socket listens
        self.address = self._process.stdout.readline().decode().strip()
        if not self.address:
            self.stop()
            raise RuntimeError("the private D-Bus daemon did not start")

    def stop(self) -> None:
        """Ends the daemon and takes its files away."""
        self._process.terminate()
        try:
            self._process.wait(5)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        assert self._process.stdout is not None
        self._process.stdout.close()
        shutil.rmtree(self._folder, ignore_errors=True)
