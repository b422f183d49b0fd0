"""Finds the files of a fabrication package and tells what they are."""

from fencepost.intake.classify import FileKind, classify
from fencepost.intake.opening import open_package, package_from
from fencepost.intake.package import Package, PackageFile
from fencepost.limits import DEFAULT_LIMITS, Limits

__all__ = [
    "DEFAULT_LIMITS",
    "FileKind",
    "Limits",
    "Package",
    "PackageFile",
    "classify",
    "open_package",
    "package_from",
]
