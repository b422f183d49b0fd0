"""What no IPC-2581 file may do or leave out: refused with file, line and column, and never read in part."""

from __future__ import annotations

from itertools import pairwise

import pytest

from fencepost.board.load import load_board
from fencepost.errors import InputError
from fencepost.intake import package_from
from fencepost.limits import Limits
from fencepost.settings.model import Settings
from readers.ipc2581_files import (
    DRILL,
    HOLE,
    TWO_LAYERS,
    board_of,
    features,
    file,
    layer_feature,
    one_set,
    polygon,
    read,
)

DISC = '<Circle diameter="2"/>'
WHOLE = file(board_of([features(DISC)]))


def refusal(data: bytes, limits: Limits | None = None) -> InputError:
    with pytest.raises(InputError) as caught:
        read(data) if limits is None else read(data, limits=limits)
    return caught.value


@pytest.mark.parametrize("part", [0.2, 0.5, 0.9, 0.99])
def test_half_a_file_is_refused_where_it_ends(part):
    """Cut anywhere, in a tag or between two."""
    cut = WHOLE[: int(len(WHOLE) * part)]
    error = refusal(cut)
    assert "cut short" in error.message
    assert error.line == cut.count(b"\n") + 1


def test_a_second_root_is_refused_where_it_begins():
    """Two files one after the other are not one."""
    error = refusal(WHOLE + b"<IPC-2581/>")
    assert (error.line, error.column) == (WHOLE.count(b"\n") + 1, 1)
    assert "one root" in error.message


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('units="MILLIMETER"', "", "does not say its units"),
        ('units="MILLIMETER"', 'units="FURLONG"', "'FURLONG'"),
        ('<CadHeader units="MILLIMETER"/>', "", "before the CadHeader"),
        ('revision="C"', 'revision="D"', "revision 'D'"),
        ('layerRef="TOP"', 'layerRef="TIP"', "the layer 'TIP'"),
        ('<Layer name="BOTTOM"', '<Layer name="TOP"', "second layer"),
        ("<Circle", "<Squircle", "<Squircle> is no feature"),
        ('<Circle diameter="2"/>', '<StandardPrimitiveRef id="gone"/>', "the shape 'gone'"),
        ('<Circle diameter="2"/>', '<UserPrimitiveRef id="gone"/>', "the shape 'gone'"),
        ('<Circle diameter="2"/>', '<Text textString="A" fontSize="9"/>', "text without its shape"),
        ('<Circle diameter="2"/>', "<Circle/>", "a number for diameter"),
        ('<Circle diameter="2"/>', '<Circle diameter="two"/>', "not 'two'"),
        ('<Circle diameter="2"/>', '<Circle diameter="NaN"/>', "a number for diameter"),
        ('<Circle diameter="2"/>', '<Circle diameter="-2"/>', "is negative"),
        ('<Circle diameter="2"/>', '<Circle diameter="1e9"/>', "limit reach"),
        ('<Circle diameter="2"/>', '<Line startX="0" startY="0" endX="1" endY="1"><LineDescRef id="x"/></Line>', "'x'"),
        ('<Circle diameter="2"/>', "<Contour/>", "no Polygon"),
        ('<Location x="0" y="0"/>', '<Location x="inf" y="0"/>', "a number for x"),
        ('<Location x="0" y="0"/>', '<Xform scale="0"/>', "a scale above 0"),
        ('<Location x="0" y="0"/>', '<Xform mirror="maybe"/>', "true or false"),
        ('diameter="0.3"', 'diameter="0"', "not above 0"),
        ('platingStatus="VIA"', 'platingStatus="SHINY"', "'SHINY'"),
        ('platingStatus="VIA"', "", "whether it is plated"),
        (HOLE, "", "no holes"),
        (HOLE, '<Pad><Location x="1" y="1"/><Circle diameter="1"/></Pad>', "shapes and no holes"),
        ('side="TOP"', 'side="BOTTOM"', "both have the side BOTTOM"),
        ('side="TOP" polarity="POSITIVE"', 'side="TOP" polarity="NEGATIVE"', "drawn as its negative"),
        ('<LayerFeature layerRef="BOTTOM"></LayerFeature>', "", "has no LayerFeature"),
        ("<Set>", '<Set polarity="SIDEWAYS">', "not 'SIDEWAYS'"),
        ("<Set>", "<Set><Mystery/>", "<Mystery> is no feature"),
        ("<Features>", "<Pad/><Features>", "a pad without a shape"),
        ("</IPC-2581>", "<Ecad><CadHeader units='INCH'/></Ecad></IPC-2581>", "second CadHeader"),
        ("<CadData>", "<Oops><CadData>", "<CadData> does not belong here"),
        ("</Step>", f"{one_set(DISC)}</Step>", "<Set> outside a LayerFeature"),
    ],
)
def test_what_would_lose_copper_or_holes_is_refused_with_its_place(old, new, said):
    """The message names what is wrong; the place, where it has one, is that of the element."""
    text = WHOLE.decode()
    assert old in text
    broken = text.replace(old, new)
    if new == "<Oops><CadData>":
        broken = broken.replace("</CadData>", "</CadData></Oops>")
    if old == "<Circle":
        broken = broken.replace("Circle diameter", "Circle  diameter")
    error = refusal(broken.encode())
    assert said in error.message
    assert error.line == 0 or 1 <= error.line <= text.count("\n")


def test_the_place_of_an_error_is_that_of_its_element():
    """Line and column of the tag, counted in characters."""
    data = file(board_of([f"\n<Set>µµ<Features>{DISC.replace('2', 'x')}</Features></Set>"]))
    error = refusal(data)
    assert (error.file, error.line, error.column) == ("board.xml", 7, 18)


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"], ids=["no mark", "byte order mark"])
def test_line_numbers_go_on_past_65535(mark):
    """The limit of a common XML library is none here, and a byte order mark moves nothing."""
    filler = "\n<!-- -->" * 70_000
    data = mark + file(board_of([f"{filler}\n  <Set><Features>{DISC}</Features></Set>"]))
    artwork = read(data).copper[0]
    assert str(artwork.location(0)) == f"board.xml:{6 + 70_001}:18"
    broken = data.replace(b'<Circle diameter="2"/>', b'<Circle diameter="x"/>')
    assert str(refusal(broken)).startswith(f"board.xml:{6 + 70_001}:18: error: ")


BOMB = (
    '<!DOCTYPE IPC-2581 [<!ENTITY a "aaaaaaaaaa">'
    + "".join(f'<!ENTITY {name} "{10 * f"&{inner};"}">' for inner, name in pairwise("abcdefghijk"))
    + "]>"
)


@pytest.mark.parametrize(
    ("declaration", "use"),
    [
        (BOMB, "&k;"),
        ('<!DOCTYPE IPC-2581 [<!ENTITY x SYSTEM "file:///etc/hostname">]>', "&x;"),
        ('<!DOCTYPE IPC-2581 SYSTEM "http://192.0.2.1/ipc.dtd">', ""),
        ('<!DOCTYPE IPC-2581 [<!ENTITY % p SYSTEM "http://192.0.2.1/p"> %p;]>', ""),
        ("<!DOCTYPE IPC-2581>", ""),
    ],
    ids=["bomb", "external entity", "external subset", "parameter entity", "empty"],
)
def test_document_types_and_so_all_entities_are_refused(declaration, use):
    """At the declaration itself, before anything is expanded or fetched."""
    text = WHOLE.decode().replace("<IPC-2581 ", f"{declaration}<IPC-2581 ", 1).replace("<Content ", f"{use}<Content ")
    error = refusal(text.encode())
    assert "document type" in error.message
    assert error.line == 2


def test_an_entity_that_nobody_declared_is_refused():
    """Without a document type there are only those of XML itself, and they work."""
    assert "XML" in refusal(WHOLE.replace(b"<Set>", b"<Set>&what;")).message
    named = WHOLE.replace(b"<Set>", b'<Set net="A&amp;B&#x3C;">')
    artwork = read(named).copper[0]
    assert artwork.values[artwork.net[0]] == ("A&B<",)


@pytest.mark.parametrize("place", ["<Content ", "<Set>", "<Step ", "<CadHeader "])
def test_a_hundred_thousand_open_elements_are_refused(place):
    """Where elements are read and where they are passed over."""
    bomb = "<UserSpecial>" * 100_000
    if place == "<Set>":
        bomb = f"<Features>{bomb}"
    tag = place.strip("< >")
    data = WHOLE.decode().replace(f"<{tag}", f"{bomb}<{tag}", 1) if place != "<Set>" else None
    text = data or WHOLE.decode().replace("<Set>", f"<Set>{bomb}", 1)
    assert "limit nesting" in refusal(text.encode()).message


def test_points_inside_points_are_counted_too():
    """Steps are not kept as elements, but their depth is."""
    data = file(board_of([features("<Polyline>" + '<PolyBegin x="0" y="0">' * 100)]))
    error = refusal(data)
    assert "limit nesting" in error.message or "one PolyBegin" in error.message


def test_a_dictionary_that_refers_to_itself_is_refused():
    """Directly, and in a circle."""
    for entries in ({"a": "a"}, {"a": "b", "b": "a"}):
        inside = "".join(
            f'<EntryUser id="{name}"><UserSpecial><UserPrimitiveRef id="{other}"/></UserSpecial></EntryUser>'
            for name, other in entries.items()
        )
        content = f'<DictionaryUser units="MILLIMETER">{inside}</DictionaryUser>'
        error = refusal(file(board_of([features('<UserPrimitiveRef id="a"/>')]), content=content))
        assert "limit nesting" in error.message


def test_a_dictionary_that_multiplies_is_refused():
    """Ten entries of ten references each would be 10^10 discs."""
    entries = '<EntryUser id="e0"><UserSpecial><Circle diameter="1"/></UserSpecial></EntryUser>'
    for i in range(1, 11):
        ten = f'<UserPrimitiveRef id="e{i - 1}"/>' * 10
        entries += f'<EntryUser id="e{i}"><UserSpecial>{ten}</UserSpecial></EntryUser>'
    content = f'<DictionaryUser units="MILLIMETER">{entries}</DictionaryUser>'
    data = file(board_of([features('<UserPrimitiveRef id="e10"/>')]), content=content)
    assert "limit shape_points" in refusal(data, Limits(shape_points=2_000)).message


def test_stackup_groups_that_multiply_or_hold_themselves_are_refused():
    """Ten groups of ten references each."""
    groups = ""
    for i in range(10):
        ten = f'<StackupLayer layerOrGroupRef="g{i + 1}" thickness="1"/>' * 10
        groups += f'<StackupGroup name="g{i}" thickness="1">{ten}</StackupGroup>'
    stack = f'<Stackup name="s" overallThickness="1">{groups}<StackupGroup name="g10" thickness="1"/></Stackup>'
    assert "sheets" in refusal(file(board_of([]), layers=TWO_LAYERS + DRILL + stack)).message


@pytest.mark.parametrize(
    ("limits", "name"),
    [
        (Limits(features=3), "features"),
        (Limits(points=4), "points"),
        (Limits(shape_points=10), "shape_points"),
        (Limits(nesting=7), "nesting"),
        (Limits(name_length=3), "name_length"),
        (Limits(tag_bytes=10), "tag_bytes"),
    ],
)
def test_limits_are_named_when_they_are_passed(limits, name):
    """A file of a few features against limits that are too small for it."""
    sets = [features(DISC), features(f"<Contour>{polygon((0, 0), (1, 0), (1, 1))}</Contour>"), features(DISC)]
    text = file(board_of(sets)).decode()
    if name == "tag_bytes":
        text = text.replace("<Content ", f"<!-- {'x' * 2_500_000} --><Content ")
    error = refusal(text.encode(), limits)
    assert f"(limit {name})" in error.message
    assert error.line > 0


@pytest.mark.parametrize("coding", ["utf-16-le", "utf-16-be"])
def test_other_codings_are_refused_and_say_what_to_do(coding):
    """Lines could not be counted in them."""
    mark = "\ufeff".encode(coding)
    assert "UTF-8" in refusal(mark + WHOLE.decode().encode(coding)).message


@pytest.mark.parametrize(("coding", "taken"), [("utf-8", True), ("ISO-8859-1", True), ("koi8-r", False), ("x", False)])
def test_the_coding_that_a_file_declares(coding, taken):
    """Names are read in it; codings that the parser does not know by itself are refused."""
    text = WHOLE.decode().replace("UTF-8", coding).replace("<Set>", '<Set net="µ">')
    if taken:
        artwork = read(text.encode(coding)).copper[0]
        assert artwork.values[artwork.net[0]] == ("µ",)
    else:
        assert f"in {coding!r}" in refusal(text.encode()).message


def test_a_file_of_another_kind_is_refused():
    """Its root is something else."""
    assert "<html>" in refusal(b"<html></html>").message
    assert "not XML" in refusal(b"G04 no xml*").message
    assert "no board" in refusal(b'<IPC-2581 revision="C"></IPC-2581>').message


def test_a_file_without_features_is_no_board():
    """Layers without copper and holes."""
    empty = file("".join(layer_feature(name) for name in ("TOP", "BOTTOM")))
    assert "no step of the file" in refusal(empty).message


def test_a_namespace_prefix_changes_nothing():
    """Tags with the root's prefix are the same tags."""
    text = WHOLE.decode().replace("</", "\0").replace("<", "<i:").replace("\0", "</i:").replace("<i:?", "<?")
    text = text.replace("xmlns=", "xmlns:i=")
    assert read(text.encode()).copper[0].xy.tolist() == read(WHOLE).copper[0].xy.tolist()


def test_a_package_is_one_file_or_a_folder_with_one():
    """Notes and pictures beside it do not matter; a second board does."""
    assert load_board(package_from("fab", {"board.xml": WHOLE, "read.me": b"hello"}), Settings()).layers == 2
    with pytest.raises(InputError, match="several IPC-2581 files"):
        load_board(package_from("fab", {"a.xml": WHOLE, "b.xml": WHOLE}), Settings())
