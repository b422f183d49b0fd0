"""A Gerber package -> Sources: reads every file that matters and refuses what is not whole."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from fencepost.board.reading import FileReading, named
from fencepost.board.roles import (
    Role,
    check_copper,
    claimed_role,
    drill_cure,
    layers_cure,
    role_of,
    whole_file,
)
from fencepost.board.sources import Drilled, Sources, StackEntry
from fencepost.errors import InputError, InputErrors
from fencepost.intake import FileKind, Package, PackageFile
from fencepost.limits import DEFAULT_LIMITS, Limits
from fencepost.readers.artwork import Artwork, DrillHits
from fencepost.readers.drill.gerber import hits_from_artwork
from fencepost.readers.jobfile import Job, read_job
from fencepost.readers.testnet.netlist import Netlist
from fencepost.settings.model import Settings
from fencepost.source import SourceFile


@dataclass
class _Found:
    """What has been read so far."""

    copper: dict[int, Artwork] = field(default_factory=dict)
    sides: dict[int, str] = field(default_factory=dict)
    profile: Artwork | None = None
    drills: list[tuple[DrillHits, Role]] = field(default_factory=list)
    files: dict[str, str] = field(default_factory=dict)


def gather(package: Package, settings: Settings, reading: FileReading) -> Sources:
    """Read a package of Gerber and drill files, and of a netlist where there is one.

    Raises InputError or InputErrors where a file cannot be read, is claimed by nothing, or a part of the board is
    missing.
    """
    job = _job(package, settings.limits)
    found = _Found()
    errors: list[InputError] = []
    for read in reading.finished():
        try:
            if isinstance(read, Artwork):
                _take_gerber(read, found, job, settings)
            elif isinstance(read, DrillHits):
                _take_drill(read, found, job, settings)
            else:
                errors.append(read)
        except InputError as error:
            errors.append(error)
    found.files |= {source.name: "stackup and file functions" for source in package.of_kind(FileKind.JOB)}
    netlist = None
    try:
        netlist = netlist_of(package, settings.limits)
    except InputError as error:
        errors.append(error)
    if errors:
        raise InputErrors(tuple(errors)) if len(errors) > 1 else errors[0]
    sources = {layer: artwork.source for layer, artwork in found.copper.items()}
    check_copper(package.name, sources, found.sides, _layers_spoken_of(job, found), settings.limits.layers)
    layers = len(found.copper)
    if not found.drills:
        raise InputError(package.name, 0, 0, "no drill file found; without holes nothing can be said of the ground")
    drills = tuple(_drilled(hits, role, layers) for hits, role in found.drills)
    if job:
        _check_drills(package, job, drills)
    return Sources(
        package=package.name,
        copper=tuple(found.copper[layer] for layer in range(1, layers + 1)),
        drills=drills,
        profile=found.profile,
        stack=tuple(StackEntry(sheet.type == "copper", sheet.thickness, sheet.permittivity) for sheet in job.stack)
        if job
        else (),
        thickness=job.thickness if job else None,
        files=found.files | netlist_use(netlist),
        netlist=netlist,
    )


def netlist_of(package: Package, limits: Limits = DEFAULT_LIMITS) -> Netlist | None:
    """The netlist of a package, if it has one. Raises InputError for a second one, and for one that is not whole."""
    netlists = package.of_kind(FileKind.NETLIST)
    if len(netlists) > 1:
        raise whole_file(netlists[1], f"a second netlist beside {netlists[0].name}; a package has one")
    if not netlists:
        return None
    from fencepost.readers.testnet.reader import read_testnet  # Few packages have one.

    return read_testnet(netlists[0], limits)


def netlist_use(netlist: Netlist | None) -> dict[str, str]:
    """What a netlist is taken for, by its name, in words for the user."""
    return {netlist.source.name: f"netlist of {len(netlist)} points"} if netlist else {}


def _job(package: Package, limits: Limits) -> Job | None:
    jobs = [entry.source for entry in package.files if entry.kind is FileKind.JOB]
    if len(jobs) > 1:
        raise whole_file(jobs[1], f"a second job file beside {jobs[0].name}; a package has one")
    return read_job(jobs[0], limits) if jobs else None


def _take_gerber(artwork: Artwork, found: _Found, job: Job | None, settings: Settings) -> None:
    source = artwork.source
    role = _role(source, artwork.attributes.get(".FileFunction", ()), job, settings)
    found.files[source.name] = role.words
    if role.part == "copper":
        if artwork.attributes.get(".FilePolarity", ("Positive",))[0] != "Positive":
            raise whole_file(source, "a copper layer drawn as its negative cannot be read; export it as positive")
        if role.layer in found.copper:
            other = found.copper[role.layer].source.name
            raise whole_file(source, f"a second file for copper layer L{role.layer}, beside {other}")
        found.copper[role.layer] = artwork
        found.sides[role.layer] = role.side
    elif role.part == "profile":
        if found.profile is not None:
            raise whole_file(source, f"a second profile, beside {found.profile.source.name}")
        found.profile = artwork
    elif role.part == "drill":
        found.drills.append((hits_from_artwork(artwork), role))


def _role(source: SourceFile, function: tuple[str, ...], job: Job | None, settings: Settings) -> Role:
    """What a Gerber file is: settings first, since a person wrote them, then its own attribute, then the job file."""
    claim = named(settings.layers, source)
    if claim is not None:
        return claimed_role(source, claim)
    function = function or (named(job.files, source) if job else None) or ()
    if function:
        return role_of(source, function)
    said = "this Gerber file does not say what it is: it has no file function, and no settings name it"
    raise whole_file(source, said, layers_cure([source.name]))


def _take_drill(hits: DrillHits, found: _Found, job: Job | None, settings: Settings) -> None:
    source = hits.source
    claim = named(settings.drill, source)
    if claim is not None:
        role = Role("drill", plated=claim.plated, span=claim.span or (0, 0))
    else:
        function = hits.attributes.get(".FileFunction") or (named(job.files, source) if job else None)
        if not function:
            said = "this drill file does not say whether its holes are plated, or which layers they join"
            raise whole_file(source, said, drill_cure(source.name))
        role = role_of(source, function)
        if role.part != "drill":
            raise whole_file(source, f'a drill file with the file function "{",".join(function)}"')
    found.files[source.name] = role.words
    found.drills.append((hits, role))


def _layers_spoken_of(job: Job | None, found: _Found) -> int | None:
    """How many copper layers the job file names, else the highest that a drill spans."""
    if job and job.layers:
        return job.layers
    spans: Iterable[int] = (role.span[1] for _, role in found.drills)
    return max(spans, default=0) or None


def _check_drills(package: Package, job: Job, drills: Iterable[Drilled]) -> None:
    """Raise InputError where the job file names holes that no file of the package has: they would be left out.

    Told by their functions and not by their names, since files are renamed.
    """
    left = Counter((drill.plated, drill.first, drill.last) for drill in drills)
    source = package.of_kind(FileKind.JOB)[0]
    for path, function in job.files.items():
        if function[0] in ("Plated", "NonPlated"):
            role = role_of(source, function)
            own = (role.plated, *role.span)
            left[own] -= 1
            if left[own] < 0:
                said = f"{path} as {','.join(function)}, and the package has no such file; export all of it again"
                raise whole_file(source, f"names {said}")


def _drilled(hits: DrillHits, role: Role, layers: int) -> Drilled:
    first, last = role.span if role.span != (0, 0) else (1, layers)
    if last > layers:
        raise whole_file(hits.source, f"its holes go to layer {last}, but the board has {layers} copper layers")
    return Drilled(hits, role.plated, first, last)


def used_files(package: Package) -> tuple[PackageFile, ...]:
    """The files of a package that this reading looks into."""
    kinds = (FileKind.GERBER, FileKind.DRILL, FileKind.JOB, FileKind.NETLIST)
    return tuple(entry for entry in package.files if entry.kind in kinds)
