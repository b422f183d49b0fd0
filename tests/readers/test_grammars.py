"""The tables that ship are those of the grammars that ship; a parser from them is the one that would be built."""

from pathlib import Path

import lark
import pytest

from fencepost.readers import grammars
from fencepost.readers.grammars import GRAMMARS, built, identity_of, parser_of, write_tables

FOLDER = Path(grammars.__file__).parents[3] / "grammars"

VERSION = "1.3.1"
"""Of lark, that wrote the tables; with any other the parsers are built."""

TEXTS = {
    "gerber": "%FSLAX46Y46*%%MOMM*%%ADD10C,0.1*%D10*X0Y0D02*X1Y1D01*G04 a comment*%TO.N,GND*%X2Y2D03*M02*",
    "drill": "M48\nMETRIC,TZ\nT1C0.3\n%\nT1\nX1.0Y1.0\nX2.0Y1.0\nM30\n",
    "testnet": "C  a comment\nP  UNITS CUST 1\nP  IMAGE PRIMARY\nP  NNAME00001 /a/net\n999\n",
}


def shape_of(tree: lark.Tree[lark.Token]) -> object:
    """All of a tree: rules, names of words, their texts and places."""
    return [
        shape_of(child) if isinstance(child, lark.Tree) else child and (child.type, str(child), child.start_pos)
        for child in [lark.Token("RULE", str(tree.data)), *tree.children]
    ]


@pytest.mark.parametrize("name", GRAMMARS)
def test_tables_are_of_this_grammar(name: str) -> None:
    """Else the parser is built at every start: `python -m fencepost.readers.grammars` writes them anew."""
    identity = (FOLDER / f"{name}.tables").read_bytes().split(b"\n", 1)[0]
    assert identity == identity_of(name, VERSION)


@pytest.mark.parametrize("name", GRAMMARS)
def test_both_parsers_make_the_same_tree(name: str) -> None:
    start = GRAMMARS[name].starts[0]
    from_tables, from_text = (parser.parse(TEXTS[name], start=start) for parser in (parser_of(name), built(name)))
    assert shape_of(from_tables) == shape_of(from_text)
    assert len(list(from_text.scan_values(lambda _: True))) >= 4


@pytest.mark.parametrize("name", GRAMMARS)
def test_both_parsers_expect_the_same_where_a_text_is_wrong(name: str) -> None:
    wrong = TEXTS[name][:-5] + "?!\n"
    said = []
    for parser in (parser_of(name), built(name)):
        with pytest.raises(lark.UnexpectedInput) as raised:
            parser.parse(wrong, start=GRAMMARS[name].starts[0])
        error = raised.value
        allowed = error.allowed if isinstance(error, lark.UnexpectedCharacters) else error.expected  # type: ignore
        said.append((type(error), error.pos_in_stream, sorted(allowed or ())))
    assert said[0] == said[1]


@pytest.mark.parametrize("identity", [b"", b"0" * 64])
def test_tables_of_another_grammar_are_left_aside(
    identity: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The tables of `testnet`, under the name of `drill` and with an identity that is not that of `drill`."""
    for name in GRAMMARS:
        (tmp_path / f"{name}.lark").write_bytes((FOLDER / f"{name}.lark").read_bytes())
    write_tables("testnet", tmp_path)
    data = (tmp_path / "testnet.tables").read_bytes().split(b"\n", 1)[1]
    (tmp_path / "drill.tables").write_bytes(identity + b"\n" + data)
    monkeypatch.setattr(grammars, "_shipped", lambda file: (tmp_path / file).read_bytes())
    assert parser_of.__wrapped__("drill").parse(TEXTS["drill"]).data == built("drill").parse(TEXTS["drill"]).data
