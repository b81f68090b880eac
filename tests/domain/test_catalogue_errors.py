"""A shop's own catalogue: the minimum that loads, and all faults reported together."""

import pytest

from triage.domain.catalogue import load_catalogue
from triage.errors import CatalogueError

LEAST = """\
[[kind]]
slug = "hinge-loose"
name = "hinge loose"
family = "hinges"

[[kind]]
slug = "lid-cracked"
name = "lid cracked"
family = "hinges"
"""

FAULTY = """\
[[family]]
slug = "hinges"
name = "Hinges"

[[kind]]
slug = "hinge-loose"
name = "hinge loose"
family = "hinge"

[[kind]]
slug = "lid-cracked"
family = "hinges"
colour = "grey"
batery = "none"

[[kind]]
slug = "hinge-loose"
name = "hinge loose, again"
family = "hinges"
battery = "suspct"
severities = ["a", "b"]

[[repair]]
slug = "tighten-hinge"
name = "Tighten the hinge"
closes = [
  "hinge-lose",
]
after = ["change-hinge"]
needed = true
"""


def write(folder, text, name="shop.toml"):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def faults_of(path):
    with pytest.raises(CatalogueError) as problem:
        load_catalogue(path)
    assert problem.value.exit_code == 2
    return problem.value.faults


def test_slug_name_and_family_are_enough(tmp_path):
    catalogue = load_catalogue(write(tmp_path, LEAST))
    kind = catalogue.kinds["hinge-loose"]
    assert (kind.role, kind.needed, kind.hidden, kind.battery) == ("repair", True, False, "none")
    assert [family.slug for family in catalogue.family] == ["hinges"]
    assert catalogue.usual_method("hinge-loose") == "" and catalogue.checks_for("hinge-loose") == ()
    assert len(catalogue.digest) == 16


def test_the_digest_follows_the_content(tmp_path):
    first = load_catalogue(write(tmp_path, LEAST, "first.toml"))
    same = load_catalogue(write(tmp_path, "# a remark\n" + LEAST, "same.toml"))
    other = load_catalogue(write(tmp_path, LEAST.replace("lid cracked", "lid split"), "other.toml"))
    assert first.digest == same.digest != other.digest


def test_a_folder_is_one_catalogue(tmp_path):
    write(tmp_path, LEAST, "a.toml")
    write(
        tmp_path,
        '[[repair]]\nslug = "change-lid"\nname = "Change the lid"\ncloses = ["lid-cracked"]\n',
        "b.toml",
    )
    assert load_catalogue(tmp_path).usual_method("lid-cracked") == "change-lid"


def test_all_faults_are_reported_together_with_their_lines(tmp_path):
    path = write(tmp_path, FAULTY)
    found = [(fault.line, fault.field, fault.wrong) for fault in faults_of(path)]
    assert found == [
        (8, "kind hinge-loose, family", "no family has the slug 'hinge'; nearest known: hinges"),
        (10, "kind 2, name", "is missing"),
        (13, "kind 2, colour", "is not a known field"),
        (14, "kind 2, batery", "is not a known field; nearest known: battery"),
        (17, "kind hinge-loose, slug", "'hinge-loose' is given twice"),
        (20, "kind 3, battery", "'suspct' is not accepted; nearest known: suspect"),
        (21, "kind 3, severities 3", "is missing"),
        (26, "repair tighten-hinge, closes", "no kind has the slug 'hinge-lose'; nearest known: hinge-loose"),
        (
            29,
            "repair tighten-hinge, after",
            "no repair has the slug 'change-hinge'; nearest known: tighten-hinge",
        ),
        (30, "repair 1, needed", "is not a known field"),
    ]


def test_a_fault_says_what_is_allowed(tmp_path):
    allowed = {fault.field: fault.allowed for fault in faults_of(write(tmp_path, FAULTY))}
    assert allowed["kind 3, battery"] == "'none', 'suspect' or 'hazard'"
    assert allowed["kind hinge-loose, family"] == "a family slug"
    assert "battery" in allowed["kind 2, batery"] and "severities" in allowed["kind 2, colour"]
    assert allowed["kind 2, name"] == "it must be given"


def test_the_message_holds_file_line_field_wrong_and_allowed(tmp_path):
    path = write(tmp_path, LEAST.replace("hinge-loose", "lid-cracked"))
    with pytest.raises(CatalogueError) as problem:
        load_catalogue(path)
    assert str(problem.value) == (
        f"{path}, line 7, kind lid-cracked, slug: 'lid-cracked' is given twice; allowed: one entry"
    )


def test_malformed_files_are_all_named(tmp_path):
    write(tmp_path, LEAST, "a.toml")
    write(tmp_path, '[[repair]]\nslug = "change-lid\n', "b.toml")
    write(tmp_path, '[[check]]\nslug = "look"\nname = \n', "c.toml")
    found = faults_of(tmp_path)
    assert [(fault.file, fault.line, fault.allowed) for fault in found] == [
        (str(tmp_path / "b.toml"), 2, "well-formed TOML"),
        (str(tmp_path / "c.toml"), 3, "well-formed TOML"),
    ]


def test_one_slug_in_two_files_is_refused(tmp_path):
    write(tmp_path, LEAST, "a.toml")
    write(tmp_path, "\n" + LEAST[: LEAST.index("\n\n") + 1], "b.toml")
    (fault,) = faults_of(tmp_path)
    assert (fault.file, fault.line) == (str(tmp_path / "b.toml"), 3)


def test_an_order_of_work_that_never_ends_is_refused(tmp_path):
    circle = """
[[repair]]
slug = "open-lid"
name = "Open the lid"
closes = ["lid-cracked"]
after = ["tighten-hinge"]

[[repair]]
slug = "tighten-hinge"
name = "Tighten the hinge"
closes = ["hinge-loose"]
after = ["open-lid"]
"""
    (fault,) = faults_of(write(tmp_path, LEAST + circle))
    assert fault.wrong.startswith("is circular: ")
    assert {"open-lid", "tighten-hinge"} == set(fault.wrong.removeprefix("is circular: ").split(" after "))
    assert fault.line in (15, 21)


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("", "no damage kind is given"),
        ("[[family]]\nslug = 'hinges'\nname = 'Hinges'\n", "no damage kind is given"),
        ("kind = 3\n", "3 is not accepted"),
        ("[kind]\nslug = 'a'\n", "{'slug': 'a'} is not accepted"),
        ("kind = ['hinge-loose']\n", "'hinge-loose' is not accepted"),
    ],
)
def test_a_file_without_kinds_is_no_catalogue(tmp_path, text, wrong):
    found = faults_of(write(tmp_path, text))
    assert wrong in [fault.wrong for fault in found]
    assert not any("tuple" in fault.allowed or "instance" in fault.allowed for fault in found)


def test_a_folder_without_files_or_a_path_without_a_file_is_refused(tmp_path):
    assert [fault.wrong for fault in faults_of(tmp_path)] == ["no damage kind is given"]
    (fault,) = faults_of(tmp_path / "nowhere.toml")
    assert fault.wrong == "No such file or directory" and fault.allowed == "a readable TOML file"
