"""TOML with line numbers: every location that a fault may name has its line."""

from dataclasses import dataclass, field

import pytest

from triage.domain.documents import build, dotted, parse_toml, read_toml
from triage.errors import InputError

TEXT = '''\
note = """
[device]
name = "not here"
"""
device.name = "tablet"

[[finding]]
kind = "a"
# severity = 9
severity = 1

  [[ finding ]]  # indented
kind = "b"
  [finding.place]
  zone = "front"
  [[finding.photo]]
  file = "one"
  [[finding.photo]]
  file = "two"

["quoted"]
'key' = [
  "x = 1",
  [1, 2],
  [3, 4]
]
after = 2
'''


@dataclass(frozen=True)
class Inner:
    size: int
    names: tuple[str, ...] = ()


@dataclass(frozen=True)
class Outer:
    title: str
    inner: tuple[Inner, ...] = ()
    by_name: dict[str, float] = field(default_factory=dict)
    maybe: Inner | None = None


@pytest.mark.parametrize(
    ("location", "line"),
    [
        (("note",), 1),
        (("device", "name"), 5),
        (("finding", 0), 7),
        (("finding", 0, "kind"), 8),
        (("finding", 0, "severity"), 10),
        (("finding", 1), 12),
        (("finding", 1, "kind"), 13),
        (("finding", 1, "place", "zone"), 15),
        (("finding", 1, "photo", 0, "file"), 17),
        (("finding", 1, "photo", 1, "file"), 19),
        (("quoted", "key"), 22),
        (("quoted", "after"), 27),
    ],
)
def test_a_location_has_its_line(location, line):
    assert parse_toml(TEXT, "text", InputError).line(location) == line


def test_a_missing_location_has_the_line_of_its_table():
    document = parse_toml(TEXT, "text", InputError)
    assert document.line(("finding", 1, "missing")) == 12
    assert document.line(("finding", 1, "photo", 1, "missing", 3)) == 18
    assert document.line(("nowhere",)) == 1
    assert parse_toml("", "text", InputError).line(("nowhere",)) is None


@pytest.mark.parametrize(
    ("text", "line"),
    [("a = 1\nb = \n", 2), ("a = 1\na = 2\n", 2), ("[x\n", 1), ("x = " + "[" * 5000, None)],
    ids=["no value", "given twice", "open header", "nested too deep"],
)
def test_malformed_text_names_its_line(text, line):
    with pytest.raises(InputError) as problem:
        parse_toml(text, "bad.toml", InputError)
    (fault,) = problem.value.faults
    assert (fault.file, fault.line, fault.allowed) == ("bad.toml", line, "well-formed TOML")


def test_a_file_that_cannot_be_read_is_an_input_error(tmp_path):
    latin = tmp_path / "latin.toml"
    latin.write_bytes(b'name = "caf\xe9"\n')
    wrongs = []
    for path in (latin, tmp_path / "none.toml", tmp_path):
        with pytest.raises(InputError) as problem:
            read_toml(path, InputError)
        wrongs.append(problem.value.faults[0].wrong)
    assert wrongs == ["is not UTF-8 text", "No such file or directory", "Is a directory"]


def test_a_byte_order_mark_is_accepted(tmp_path):
    path = tmp_path / "marked.toml"
    path.write_text('title = "a"\n', encoding="utf-8-sig")
    assert read_toml(path, InputError).tables == {"title": "a"}


def faults_of(text):
    with pytest.raises(InputError) as problem:
        build(Outer, parse_toml(text, "f.toml", InputError), InputError)
    return [(fault.line, fault.field, fault.wrong, fault.allowed) for fault in problem.value.faults]


def test_a_good_document_becomes_its_dataclass():
    text = 'title = "a"\n[[inner]]\nsize = 2\nnames = ["x"]\n[by_name]\none = 1\n'
    assert build(Outer, parse_toml(text, "f.toml", InputError), InputError) == Outer(
        "a", (Inner(2, ("x",)),), {"one": 1.0}
    )


def test_all_faults_of_a_document_come_together():
    text = """\
[[inner]]
size = "big"
nmes = ["x"]

[[inner]]
names = [1]

[by_name]
one = "high"

[maybe]
syze = 1
"""
    assert faults_of(text) == [
        (1, "title", "is missing", "it must be given"),
        (
            2,
            "inner 1, size",
            "'big' is not accepted",
            "a valid integer, unable to parse string as an integer",
        ),
        (3, "inner 1, nmes", "is not a known field; nearest known: names", "names, size"),
        (5, "inner 2, size", "is missing", "it must be given"),
        (6, "inner 2, names 1", "1 is not accepted", "a valid string"),
        (9, "by_name, one", "'high' is not accepted", "a valid number, unable to parse string as a number"),
        (11, "maybe, size", "is missing", "it must be given"),
        (12, "maybe, syze", "is not a known field; nearest known: size", "names, size"),
    ]


@pytest.mark.parametrize(
    ("text", "allowed"),
    [("inner = 3", "a list"), ("inner = [3]", "a table"), ("by_name = []", "a table")],
)
def test_expected_shapes_are_named_in_terms_of_toml(text, allowed):
    assert [fault[3] for fault in faults_of('title = "a"\n' + text)] == [allowed]


def test_a_location_counts_from_one():
    assert dotted(("finding", 1, "severity")) == "finding 2, severity"
    assert dotted((0,)) == "entry 1"
    assert dotted(()) == "file"


def test_a_long_value_is_cut_short():
    (fault,) = faults_of(f'title = ["{"x" * 200}"]')
    assert len(fault[2]) < 90 and "..." in fault[2]
