"""The kernel a report runs in: this very Python, nothing of the reader's own set-up, no noise."""

from __future__ import annotations

import os
import signal
from pathlib import Path
from typing import Any

from jupyter_client.kernelspec import KernelSpecManager
from jupyter_client.manager import AsyncKernelManager

PACKAGE_PARENT = Path(__file__).resolve().parents[2]


class ReportKernel(AsyncKernelManager):
    """Starts a kernel of the running interpreter over TCP, in a folder of its own.

    Notes
    -----
    A kernel called ``python3`` in the reader's own Jupyter settings may be another Python, and
    start-up scripts of IPython may change results: neither is looked at. Hash seeds are fixed, so
    that the same log gives the same bytes.
    """

    folder: Path
    running: set[int]
    pid: int = 0

    def __init__(self, **settings: Any) -> None:  # traitlets hands every trait by name
        native = KernelSpecManager(kernel_dirs=[], ensure_native_kernel=True)
        super().__init__(
            **settings,
            kernel_spec_manager=native,
            transport="tcp",
            transport_encryption="auto",
        )

    async def start_kernel(self, **launch: Any) -> None:  # type: ignore[override]
        """Start the kernel and remember its process, so that it can be ended at once."""
        paths = [str(PACKAGE_PARENT), os.environ.get("PYTHONPATH", "")]
        environment = {
            **os.environ,
            "PYTHONPATH": os.pathsep.join(path for path in paths if path),
            "PYTHONHASHSEED": "0",
            "IPYTHONDIR": str(self.folder / "ipython"),
            "PYDEVD_DISABLE_FILE_VALIDATION": "1",
        }
        await self._async_start_kernel(env=environment, cwd=str(self.folder / "work"), **launch)
        self.pid = getattr(self.provisioner, "pid", None) or self.pid
        self.running.add(self.pid)

    async def cleanup_resources(self, restart: bool = False) -> None:  # type: ignore[override]
        """Forget the process: it has ended, whether by itself or not."""
        self.running.discard(self.pid)
        await self._async_cleanup_resources(restart=restart)


def kernel_class(folder: Path, running: set[int]) -> type[ReportKernel]:
    """Make the kernel class of one run.

    Parameters
    ----------
    folder : Path
        A folder that only this run uses.
    running : set of int
        Where the process ids of running kernels are kept.

    Returns
    -------
    type
    """
    (folder / "work").mkdir(parents=True)
    return type("ReportKernel", (ReportKernel,), {"folder": folder, "running": running})


def end_kernels(running: set[int]) -> None:
    """End the kernels that are still running; used when the reader breaks a run off."""
    for pid in running - {0}:
        try:
            os.kill(pid, getattr(signal, "SIGKILL", signal.SIGTERM))
        except OSError:
            continue
