"""Netlists for bare board test: IPC-D-356, A and B."""

from fencepost.readers.testnet.netlist import Netlist, Point
from fencepost.readers.testnet.reader import read_testnet

__all__ = ["Netlist", "Point", "read_testnet"]
