"""IPC-2581, revisions A, B, B1 and C."""

from fencepost.readers.ipc2581.reader import read_ipc2581
from fencepost.readers.ipc2581.reading import Reading

__all__ = ["Reading", "read_ipc2581"]
