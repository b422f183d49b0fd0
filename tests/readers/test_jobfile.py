"""The Gerber job file. Its keys are those of Ucamco, The Gerber Job File Format Specification, from memory."""

from __future__ import annotations

import json

import pytest

from fencepost.errors import InputError
from fencepost.readers.jobfile import Job, StackEntry, read_job
from fencepost.source import SourceFile

WHOLE = {
    "Header": {"GenerationSoftware": {"Vendor": "none", "Application": "by hand"}, "CreationDate": "2026-01-01"},
    "GeneralSpecs": {
        "ProjectId": {"Name": "tide", "Revision": "A"},
        "Size": {"X": 60.0, "Y": 40.0},
        "LayerNumber": 4,
        "BoardThickness": 1.6,
        "Finish": "ENIG",
    },
    "FilesAttributes": [
        {"Path": "tide-L1.gbr", "FileFunction": "Copper,L1,Top", "FilePolarity": "Positive"},
        {"Path": "drill/tide.drl", "FileFunction": "Plated,1,4,PTH"},
        {"Path": "notes.gbr"},
    ],
    "MaterialStackup": [
        {"Type": "SolderMask", "Thickness": 0.01, "DielectricConstant": 3.3, "Name": "Top mask"},
        {"Type": "Copper", "Thickness": 0.035, "Name": "L1"},
        {"Type": "Dielectric", "Thickness": 0.2, "DielectricConstant": 4.4, "Material": "FR4", "Name": "L1/L2"},
        {"Type": "Copper", "Name": "L2"},
        {"Type": "Dielectric"},
    ],
}


def read(value: object) -> Job:
    """A job file of this JSON value, or of these bytes."""
    return read_job(SourceFile("fab/a.gbrjob", value if isinstance(value, bytes) else json.dumps(value).encode()))


def test_the_whole_of_a_job_file() -> None:
    assert read(WHOLE) == Job(
        layers=4,
        thickness=1.6,
        size=(60.0, 40.0),
        files={"tide-L1.gbr": ("Copper", "L1", "Top"), "drill/tide.drl": ("Plated", "1", "4", "PTH")},
        stack=(
            StackEntry("soldermask", "Top mask", 0.01, 3.3),
            StackEntry("copper", "L1", 0.035, None),
            StackEntry("dielectric", "L1/L2", 0.2, 4.4),
            StackEntry("copper", "L2", None, None),
            StackEntry("dielectric", "", None, None),
        ),
    )


@pytest.mark.parametrize("value", [{}, {"Header": {}}, {"GeneralSpecs": {}}, {"GeneralSpecs": {"Size": None}}])
def test_absent_parts_are_none_or_empty(value: object) -> None:
    assert read(value) == Job(layers=None, thickness=None, size=None, files={}, stack=())


def test_numbers_may_be_written_as_text() -> None:
    job = read(
        {"GeneralSpecs": {"LayerNumber": "4"}, "MaterialStackup": [{"Type": "Dielectric", "DielectricConstant": "4.5"}]}
    )
    assert job.layers == 4
    assert job.stack[0].permittivity == 4.5


def test_a_byte_order_mark_is_no_part_of_the_text() -> None:
    assert read(b"\xef\xbb\xbf" + json.dumps(WHOLE).encode()) == read(WHOLE)


@pytest.mark.parametrize(
    ("data", "line", "column"),
    [
        (b"", 1, 1),
        (b'{"Header": {},\n  "GeneralSpecs": }', 2, 19),
        (b'{"Header": {}', 1, 14),
        (b'{\n\n"Name": "\xc3\xa9", x}', 3, 14),
        (b'\xef\xbb\xbf{\n"a": }', 2, 6),
        (b'{"a": 1}\n{"b": 2}', 2, 1),
        (b'{"Name": "\xff"}', 1, 11),
    ],
)
def test_malformed_json_is_an_error_with_line_and_column(data: bytes, line: int, column: int) -> None:
    with pytest.raises(InputError) as caught:
        read(data)
    assert (caught.value.file, caught.value.line, caught.value.column) == ("fab/a.gbrjob", line, column)


@pytest.mark.parametrize(
    ("value", "message"),
    [
        ([], "expected `object`"),
        ({"GeneralSpecs": {"LayerNumber": "four"}}, "GeneralSpecs.LayerNumber: expected `int"),
        ({"GeneralSpecs": {"LayerNumber": 4.5}}, "GeneralSpecs.LayerNumber: expected `int"),
        ({"GeneralSpecs": {"LayerNumber": 0}}, "LayerNumber is 0; it must be above zero"),
        ({"GeneralSpecs": {"BoardThickness": -1.6}}, "BoardThickness is -1.6; it must be above zero"),
        ({"GeneralSpecs": {"Size": {"X": 10.0}}}, "GeneralSpecs.Size: object missing required field `Y`"),
        ({"GeneralSpecs": {"Size": {"X": 10.0, "Y": 0}}}, "Size.Y is 0.0"),
        ({"MaterialStackup": [{"Type": "Copper", "Thickness": 0}]}, "MaterialStackup[0].Thickness is 0.0"),
        ({"MaterialStackup": [{"Type": "Copper"}, {"Thickness": 1}]}, "MaterialStackup[1]: object missing required"),
        (
            {
                "FilesAttributes": [
                    {"Path": "a", "FileFunction": "Copper,L1,Top"},
                    {"Path": "a", "FileFunction": "Legend,Top"},
                ]
            },
            "two file functions",
        ),
        (b'{"GeneralSpecs": {"BoardThickness": NaN}}', "NaN is not a number"),
        (b'{"GeneralSpecs": {"BoardThickness": 1e999}}', "BoardThickness is inf"),
        (b'{"GeneralSpecs": {"LayerNumber": ' + b"9" * 10_000 + b"}}", "LayerNumber"),
        (b'{"GeneralSpecs": {}, "GeneralSpecs": {}}', "given twice in one object: GeneralSpecs"),
        (b"[" * 100_000, "nested too deep"),
    ],
)
def test_values_that_cannot_be_are_errors_that_name_the_key(value: object, message: str) -> None:
    with pytest.raises(InputError) as caught:
        read(value)
    assert message in caught.value.message


def test_a_mask_may_say_that_it_has_no_thickness() -> None:
    assert read({"MaterialStackup": [{"Type": "Legend", "Thickness": 0}]}).stack[0].thickness == 0
