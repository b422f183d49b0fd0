"""Fuzzing led by coverage, by hand, with what follows the name of a reader handed on to libFuzzer:

    pip install atheris
    python tests/fuzz/by_atheris.py gerber -max_total_time=60

stops at the first input that ends in anything but a result or an error for the user, and keeps it in `crash-…`;
`by_atheris.py gerber crash-…` repeats it. The readers are gerber, drill, testnet, ipc2581, job, settings, archive and
board, a whole package. Originals go first: with a folder named, they are put into it, and what is found is kept there.
"""

from __future__ import annotations

import sys
import warnings
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2] / "fixtures")]


def main() -> None:
    """Fuzz the reader that the command line names."""
    import atheris

    with atheris.instrument_imports(include=["fencepost", "lark", "xml", "zipfile", "tomllib"]):
        from fuzz.targets import outcome, targets

    names = targets()
    if len(sys.argv) < 2 or sys.argv[1] not in names:
        sys.exit(f"name one of {', '.join(names)}")
    target = names[sys.argv.pop(1)]
    warnings.simplefilter("ignore")
    for folder in (Path(argument) for argument in sys.argv[1:] if not argument.startswith("-")):
        if folder.is_dir():
            for number, data in enumerate(target.originals):
                (folder / f"original-{number}").write_bytes(data)
    atheris.Setup(sys.argv, lambda data: (outcome(target, data), None)[1])
    atheris.Fuzz()


if __name__ == "__main__":
    main()
