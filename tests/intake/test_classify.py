"""Files are told by what stands in them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from fencepost.intake import FileKind, classify
from fencepost.intake.classify import HEAD_BYTES

G, D, J, N, X, OTHER = (
    FileKind.GERBER,
    FileKind.DRILL,
    FileKind.JOB,
    FileKind.NETLIST,
    FileKind.IPC2581,
    FileKind.OTHER,
)

XML = '<?xml version="1.0" encoding="UTF-8"?>\n'
JOB = json.dumps({"Header": {}, "GeneralSpecs": {"LayerNumber": 4}})
NETLIST = (
    "C  made by hand\nP  JOB tide\nP  UNITS CUST 0\n"
    "317GND              VIA   -     D0118PA00X+012000Y+034000X0236Y0000R000S3\n999\n"
)

CONTENTS = {
    "Gerber": ("%FSLAX46Y46*%\n%MOMM*%\n%ADD10C,0.2*%\nD10*\nX0Y0D03*\nM02*\n", G),
    "Gerber that begins with its attributes": ("%TF.GenerationSoftware,none*%\n%TF.FileFunction,Copper,L1,Top*%\n", G),
    "Gerber that begins with a comment": ("G04 made by hand*\nG04 #@! TF.FileFunction,Profile*\n%FSLAX46Y46*%\n", G),
    "Gerber with a percent sign on its own": ("%\nFSLAX24Y24*\nMOIN*\n%\n", G),
    "Gerber after blank lines": ("\n\n  %FSTAX24Y24*%\n", G),
    "Gerber without a header": ("G54D10*\nX100Y100D03*\nX200Y100D03*\nM02*\n", G),
    "Gerber of an aperture and no more": ("%ADD10C,0.2*%\n", G),
    "Excellon": ("M48\nMETRIC\nT1C0.3\n%\nT1\nX1.0Y1.0\nM30\n", D),
    "Excellon after comments": ("; by hand\n;FILE_FORMAT=4:4\n\nM48\nnonsense\n", D),
    "Excellon between percent signs": ("%\nM48\nM72\nT01C0.02\n%\n", D),
    "Excellon without a header": ("%\nT1C0.3\nX1.0Y1.0\nM30\n", D),
    "Excellon that begins with its unit": ("METRIC,TZ,000.000\nT1C0.3\n%\n", D),
    "Excellon with tools in comments": (";T01 Holesize 1. = 8.0 PLATED MILS\n%\nG90\nT01\nX0100Y0200\nM30\n", D),
    "Excellon with other line ends": ("M48\rMETRIC\rT1C0.3\r%\r", D),
    "Excellon with a slot": ("INCH\nT1C0.03F200S5\nX1.0Y1.0G85X2.0Y1.0\n", D),
    "job file": (JOB, J),
    "job file laid out in lines": ("\n  {\n  \"Header\" :\n {},\n \"MaterialStackup\" : [", J),
    "job file with a byte order mark": ("\ufeff" + JOB, J),
    "netlist": (NETLIST, N),
    "netlist without comments": ("P  CODE 00\n327GND              U1    -1          A01X+012000Y+034000\n", N),
    "IPC-2581": (XML + '<IPC-2581 revision="C" xmlns="http://webstds.ipc.org/2581">', X),
    "IPC-2581 after a comment": (XML + "<!-- <x/> -->\n\n<?style a?><IPC-2581 revision='B'>", X),
    "IPC-2581 with a prefix": ('<i:IPC-2581 xmlns:i="http://webstds.ipc.org/2581"/>', X),
    "IPC-2581 after a document type": (XML + '<!DOCTYPE IPC-2581 [ <!ENTITY a "b"> ]>\n<IPC-2581>', X),
    "Excellon with something unknown in it": ("METRIC\nT1C0.3\nwhat is this\nX1.0Y1.0\nM30\n", D),
    "other XML": (XML + "<svg><IPC-2581/></svg>", OTHER),
    "other XML that names it in a comment": (XML + "<!-- <IPC-2581> --><svg/>", OTHER),
    "other JSON": ('{"name": "x", "version": 1}', OTHER),
    "prose": ("This board is 1.6 mm thick.\nPlease plate all holes.\n", OTHER),
    "prose that begins like a netlist": ("C  is the language.\nP  is not.\n", OTHER),
    "prose that speaks of tools": ("T1 is the transformer\nMETRIC threads\n", OTHER),
    "comments alone": ("; nothing here\n%\n;\n", OTHER),
    "a milling program": ("%\nO1000\nG21 G90\nT1 M6\nG0 X0 Y0\nM30\n", OTHER),
    "a list of parts": ("R1\nR2\nC1\nU1\nT1\nX1\nY1\n", OTHER),
    "a table of parts": ("Ref,Val,X,Y\nR1,10k,1.0,2.0\n", OTHER),
    "a web page": ("<!DOCTYPE html><html>", OTHER),
    "settings": ('[board]\nthickness = "1.6 mm"\n', OTHER),
    "nothing": ("", OTHER),
}  # fmt: skip


@pytest.mark.parametrize(("text", "kind"), CONTENTS.values(), ids=CONTENTS.keys())
def test_content_tells_the_kind(text: str, kind: FileKind) -> None:
    assert classify(text.encode()) is kind


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_ipc2581_in_other_encodings(encoding: str) -> None:
    assert classify('<?xml version="1.0"?><IPC-2581 revision="C">'.encode(encoding)) is X


@pytest.mark.parametrize(
    "data", [b"\x89PNG\r\n\x1a\n\0\0\0", b"%PDF-1.4\n%\xe2\xe3\n", b"\0" * 1000, bytes(range(256)) * 9]
)
def test_binary_data_is_something_else(data: bytes) -> None:
    assert classify(data) is OTHER


@pytest.mark.parametrize("text", ["M48\nMETRIC\nT1C0.3\n%\nT1\n", "METRIC\nT1C0.3\n"])
def test_a_line_cut_by_the_end_of_the_head_does_not_matter(text: str) -> None:
    run = "X100.001Y200.002\n" * (HEAD_BYTES // 10)
    for shift in range(20):
        assert classify((";" * shift + "\n" + text + run).encode()[:HEAD_BYTES]) is D


def test_it_takes_no_longer_for_text_that_almost_fits() -> None:
    """Patterns that try many ways would not come back from these."""
    for text in (
        "<!--" * 20_000,
        "<?" * 30_000,
        "<!DOCTYPE " + "[" * 60_000,
        "T1 " * 20_000,
        "X1" * 30_000 + "*",
        "G04\n" * 16_000,
        "%\n" * 30_000,
        "\n" * 60_000 + "x",
        " \n" * 30_000 + "x",
    ):
        assert classify(text.encode()) is OTHER


SAMPLES = Path(__file__).parents[3] / "shared"


@pytest.mark.skipif(not SAMPLES.is_dir(), reason="the reference data is not beside the repository")
def test_real_files() -> None:
    kinds = {path.name: classify(path.read_bytes()) for path in SAMPLES.glob("boards/*/*") if path.is_file()}
    assert sorted(kinds.values(), key=str) == [D] * 2 + [G] * 7 + [OTHER]
    assert {classify(path.read_bytes()) for path in SAMPLES.glob("ipc2581/samples/*.xml")} == {X}
    assert {classify(path.read_bytes()) for path in SAMPLES.glob("ipc2581/schema/*.xsd")} == {OTHER}
