"""Time and peak memory of reading IPC-2581 files, each in a process of its own: bytes of memory per byte of input.

    python tests/bench/bench_ipc2581.py [FILE...] [--megabytes 120]

Without files, one is written to a temporary folder: pads, traces and pours in about the mix of a dense board.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

_HEAD = """<?xml version="1.0" encoding="UTF-8"?>
<IPC-2581 revision="C" xmlns="http://webstds.ipc.org/2581">
<Content roleRef="Owner"><FunctionMode mode="FABRICATION"/><StepRef name="board"/>
<DictionaryLineDesc units="MILLIMETER"><EntryLineDesc id="trace"><LineDesc lineEnd="ROUND" lineWidth="0.1"/>
</EntryLineDesc></DictionaryLineDesc>
<DictionaryStandard units="MILLIMETER"><EntryStandard id="via"><Circle diameter="0.45"/></EntryStandard>
<EntryStandard id="pad"><RectCenter width="0.6" height="0.3"/></EntryStandard></DictionaryStandard></Content>
<Ecad name="Design"><CadHeader units="MILLIMETER"/><CadData>
"""
_TAIL = "</Step></CadData></Ecad></IPC-2581>\n"
_LAYERS = 8


def synthetic(size: int) -> Iterator[str]:
    """A file of about `size` bytes, piece by piece."""
    yield _HEAD
    for i in range(1, _LAYERS + 1):
        side = "TOP" if i == 1 else "BOTTOM" if i == _LAYERS else "INTERNAL"
        yield f'<Layer name="L{i}" layerFunction="CONDUCTOR" side="{side}" polarity="POSITIVE"/>\n'
    yield '<Layer name="drill" layerFunction="DRILL" side="ALL" polarity="POSITIVE">'
    yield f'<Span fromLayer="L1" toLayer="L{_LAYERS}"/></Layer>\n'
    yield '<Step name="board" type="BOARD"><Datum x="0.0" y="0.0"/>\n'
    holes = []
    for layer in range(1, _LAYERS + 1):
        yield f'<LayerFeature layerRef="L{layer}">\n'
        written, net = 0, 0
        while written < size / _LAYERS:
            text = _net(net)
            written += len(text)
            net += 1
            yield text
        holes.append(net)
        yield "</LayerFeature>\n"
    yield '<LayerFeature layerRef="drill">\n'
    for net in range(min(holes)):
        x, y = _place(net)
        place = f'x="{x:.4f}" y="{y:.4f}"'
        hole = f'<Hole name="H{net}" diameter="0.2" platingStatus="VIA" plusTol="0.0" minusTol="0.0" {place}/>'
        yield f'<Set net="N{net}" geometry="VIA">{hole}</Set>\n'
    yield f"</LayerFeature>\n{_TAIL}"


def _place(net: int) -> tuple[float, float]:
    return net % 300 * 3.0, net // 300 * 3.0


def _net(net: int) -> str:
    """A via, a component pad, six traces of five segments; every tenth net has a pour with 200 corners."""
    x, y = _place(net)
    rows = [
        f'<Set net="N{net}" padUsage="VIA"><Pad><Location x="{x:.4f}" y="{y:.4f}"/>'
        '<StandardPrimitiveRef id="via"/></Pad></Set>',
        f'<Set net="N{net}"><Pad><Xform rotation="90.0"/><Location x="{x + 1.5:.4f}" y="{y:.4f}"/>'
        f'<StandardPrimitiveRef id="pad"/><PinRef pin="{net % 64}" componentRef="U{net // 64}"/></Pad></Set>',
    ]
    for k in range(6):
        steps = "".join(
            f'<PolyStepSegment x="{x + 0.3 * i:.4f}" y="{y + 0.2 * k + 0.05 * (i % 2):.4f}"/>\n' for i in range(1, 6)
        )
        rows.append(
            f'<Set net="N{net}"><Features><Location x="0.0" y="0.0"/><Polyline><PolyBegin x="{x:.4f}" y="{y:.4f}"/>\n'
            f'{steps}<LineDescRef id="trace"/></Polyline></Features></Set>'
        )
    if net % 10 == 0:
        steps = "".join(
            f'<PolyStepSegment x="{x + 2 + 0.005 * (i % 100):.4f}" y="{y + (i // 100) * 0.5:.4f}"/>\n'
            for i in range(199)
        )
        rows.append(
            f'<Set net="N{net}"><Features><Location x="0.0" y="0.0"/><Contour><Polygon>'
            f'<PolyBegin x="{x + 2:.4f}" y="{y:.4f}"/>\n{steps}</Polygon></Contour></Features></Set>'
        )
    return "\n".join(rows) + "\n"


def _measure(path: Path) -> None:
    """Read one file and print what it took; in a process of its own, whose peak is this file's."""
    from fencepost.board.from_ipc2581 import sources_from_ipc2581
    from fencepost.settings.model import Settings
    from fencepost.source import SourceFile

    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    began, worked = time.perf_counter(), time.process_time()
    source = SourceFile(path.name, path.read_bytes())
    sources = sources_from_ipc2581(path.name, source, Settings())
    seconds, busy = time.perf_counter() - began, time.process_time() - worked
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    size = len(source.data)
    features = sum(map(len, sources.copper))
    print(
        f"{path.name}: {size / 1e6:.1f} MB, {features:,} features, {seconds:.2f} s, of the processor {busy:.2f} s, "
        f"{(peak - before) / 1e6:.0f} MB more than before reading: {(peak - before) / size:.2f} bytes per byte of input"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("files", nargs="*", type=Path)
    parser.add_argument("--megabytes", type=int, default=120)
    parser.add_argument("--one", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.one:
        _measure(asked.files[0])
        return
    with tempfile.TemporaryDirectory() as folder:
        files = asked.files
        if not files:
            files = [Path(folder) / "synthetic.xml"]
            with files[0].open("w") as file:
                file.writelines(synthetic(asked.megabytes * 1_000_000))
        for file in files:
            subprocess.run([sys.executable, __file__, str(file), "--one"], check=True)


if __name__ == "__main__":
    main()
