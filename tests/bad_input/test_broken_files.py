"""Every broken file of the corpus is refused with exactly the messages that stand beside it.

The tables in ``files/`` hold text; what no table can hold (bytes, sizes, links, devices) is made here.
"""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from shopsim.cli import main
from shopsim.errors import Fault
from shopsim.scenario import read_scenario, read_scenario_text

from .conftest import Tell
from .corpus import BASE, Entry, read_corpus

CORPUS = read_corpus()
TRAYS = BASE.read_text(encoding="utf-8")


def test_the_sound_file_that_all_others_are_changes_of_has_no_fault(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(BASE)]) == 0
    assert capsys.readouterr().err == ""


def test_the_corpus_has_every_entry_once_and_says_what_must_be_told_of_each() -> None:
    names = [(entry.table, entry.name) for entry in CORPUS]
    assert len(set(names)) == len(names) >= 200
    assert [name for name, entry in zip(names, CORPUS, strict=True) if not entry.told] == []


@pytest.mark.parametrize("entry", CORPUS, ids=lambda entry: f"{entry.table}: {entry.name}")
def test_a_broken_file_is_told_with_line_place_rule_and_mend(entry: Entry, tell: Tell, tmp_path: Path) -> None:
    entry.write(tmp_path)
    assert tell("trays.toml") == entry.told
    texts = {"trays.toml": entry.text, **entry.beside}
    for fault in read_scenario("trays.toml").faults:
        assert fault.file in texts
        assert fault.rule
        assert fault.mend
        assert str(fault).isprintable()
        assert fault.line is not None or entry.text.count("\n") == 1  # nothing but a title, nothing but a remark
        assert fault.line is None or 1 <= fault.line <= texts[fault.file].count("\n")


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "trays.toml · is an empty file · start from one of the examples"),
        (b" \n\t\r\n", "trays.toml · is an empty file · start from one of the examples"),
        (b"\xef\xbb\xbf", "trays.toml · is an empty file · start from one of the examples"),
        (TRAYS.encode("utf-16"), "trays.toml · is written in UTF-16 · save it as UTF-8"),
        (TRAYS.encode("utf-16-le"), "trays.toml · is written in UTF-16 · save it as UTF-8"),
        (TRAYS.encode("utf-16-be"), "trays.toml · is written in UTF-16 · save it as UTF-8"),
        (TRAYS.encode("utf-32"), "trays.toml · is written in UTF-32 · save it as UTF-8"),
        (
            TRAYS.replace("bench", "établi").encode("latin-1"),
            "trays.toml:18 · is not written in UTF-8 · save it as UTF-8",
        ),
        (
            TRAYS.replace("Six trays", "6 ½ trays").encode("cp1252"),
            "trays.toml:1 · is not written in UTF-8 · save it as UTF-8",
        ),
        (
            TRAYS.replace("bench", "b\0nch").encode(),
            "trays.toml:18 · holds a NUL byte, so it is not a text file · check that it is the right file",
        ),
        (
            b"\x89PNG\r\n\x1a\n" + bytes(range(256)),
            "trays.toml:1 · is no text but a picture · name the scenario, a file that ends in .toml",
        ),
        (
            b"PK\x03\x04" + bytes(range(256)),
            "trays.toml:1 · is no text but a packed file, as workbooks are · name the scenario, a file that ends in .toml",
        ),
        (
            b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n",
            "trays.toml:1 · is no text but a PDF · name the scenario, a file that ends in .toml",
        ),
        (
            bytes(range(128, 256)) * 50,
            "trays.toml:1 · is not written in UTF-8 · save it as UTF-8",
        ),
        (
            TRAYS.replace("Six trays", "Six \x1b[2Jtrays").encode(),
            "trays.toml:1 · a control character stands in the text · take it out; within a text write it as \\u0007",
        ),
        (
            TRAYS.replace("\n", "\r").encode(),
            "trays.toml:1 · the lines end as on very old machines, with a carriage return alone · "
            "save it again with ordinary line ends",
        ),
    ],
    ids=[
        "empty", "blanks", "a mark alone", "UTF-16", "UTF-16 without its mark", "UTF-16 the other way round", "UTF-32",
        "Latin-1", "Windows", "NUL", "a picture", "a workbook", "a PDF", "noise", "escapes", "old line ends",
    ],
)  # fmt: skip
def test_bytes_that_are_no_scenario_are_told(data: bytes, told: str, tell: Tell, tmp_path: Path) -> None:
    (tmp_path / "trays.toml").write_bytes(data)
    assert tell("trays.toml") == [told]


@pytest.mark.parametrize("way", ["with a mark in front", "with line ends of Windows", "without a last line end"])
def test_ordinary_ways_of_saving_a_text_are_taken(way: str, tmp_path: Path) -> None:
    text = {
        "with a mark in front": "\ufeff" + TRAYS,
        "with line ends of Windows": TRAYS.replace("\n", "\r\n"),
        "without a last line end": TRAYS.rstrip("\n"),
    }[way]
    (tmp_path / "trays.toml").write_bytes(text.encode())
    assert read_scenario(tmp_path / "trays.toml") == read_scenario(BASE)


DEEP = {
    "lists": ("cut = " + "[" * 100_000, "lists or tables are nested too deeply · write them less deep"),
    "lists that are closed": (
        f"cut = {'[' * 60}{']' * 60}",
        "lists or tables are nested more than 32 deep · write them less deep",
    ),
    "tables in braces": ("cut = " + "{ a = " * 50_000, "lists or tables are nested too deeply · write them less deep"),
    "dots": (f"{'a.' * 50_000}a = 1", "a key of more than 32 parts · write tables within tables less deep"),
    "a header": (f"[{'a.' * 50_000}a]", "a key of more than 32 parts · write tables within tables less deep"),
}


@pytest.mark.parametrize("what", DEEP)
def test_deep_nesting_is_refused_at_its_line(what: str, tell: Tell, tmp_path: Path) -> None:
    text, told = DEEP[what]
    (tmp_path / "trays.toml").write_text(f"{TRAYS}{text}\n")
    assert tell("trays.toml") == [f"trays.toml:{TRAYS.count(chr(10)) + 1} · {told}"]


#: Texts of about a megabyte: how many faults each has, and the first of them.
LARGE = {
    "blanks after a value": (
        "orders = 6" + " " * 900_000 + "!",
        1, ':81 · "orders" is given twice · keep one of them',
    ),
    "digits": (
        "orders = " + "9" * 900_000,
        1, ":81 · a number has thousands of digits · write a number that a shop can mean",
    ),
    "a word of digits": (
        "orders = " + "9." * 400_000,
        1, ":81 · a key of more than 32 parts · write tables within tables less deep",
    ),
    "words before an equals sign": (
        "a " * 400_000 + "= 6",
        1, ':81 · a key has no = after it · write it as key = value, text in "quotes"',
    ),
    "quotes of three": (
        "orders = [" + '"""\\' * 200_000,
        1, ":81 · a text is not closed · close it with the quote it begins with",
    ),
    "quotes and backslashes": (
        "orders = [" + '\\"' * 400_000,
        1, ":81 · a value cannot be read · put text in quotes, and write a number without a unit",
    ),
    "brackets": (
        "orders = [" + "[]," * 300_000,
        1, ":81 · a list is not closed · close it with ]",
    ),
    "headers": (
        f"[[shop.stations]] # {'x' * 30}\n" * 18_000,
        18_001, ":17 · shop.stations · holds more than 1,000 · leave out what is not needed",
    ),
    "a long name": (
        f'[[shop.stations]]\nname = "{"x" * 900_000}"',
        1, ':82 · shop.stations "xxxxxxxxxx',
    ),
    "many keys": (
        "".join(f"k{'x' * 30}{number} = 1\n" for number in range(22_000)),
        22_000, f":81 · run.k{'x' * 30}0 · is not a known key · take it out; known here are ",
    ),
    "many names like others": (
        "".join(f"[[materials]]\nname = 'm{n}'\nneeded_by = ['cu{n}']\n" for n in range(9_000)),
        1, ":67 · materials · holds more than 1,000 · leave out what is not needed",
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", LARGE)
def test_a_megabyte_of_nonsense_is_refused_with_its_place_and_mend(what: str) -> None:
    text, n_faults, told = LARGE[what]
    faults = read_scenario_text(f"{TRAYS}{text}\n").faults
    assert len(faults) == n_faults
    assert str(faults[0]).startswith(f"scenario.toml{told}")
    assert all(fault.rule and fault.mend and len(str(fault)) < 2000 for fault in faults)


def test_a_file_that_no_memory_holds_is_refused_without_being_read(tell: Tell, tmp_path: Path) -> None:
    with (tmp_path / "trays.toml").open("wb") as file:
        file.truncate(10**12)  # a hole, which takes no room on the disk
        file.write(TRAYS.encode())
    assert tell("trays.toml") == [
        "trays.toml · is larger than 1,000 kB, which no shop needs · check that it is the right file"
    ]


def test_a_large_file_of_orders_is_refused_at_the_place_that_names_it(tell: Tell, tmp_path: Path) -> None:
    (tmp_path / "trays.toml").write_text(TRAYS.replace("orders = 6", 'orders = "orders.csv"'))
    (tmp_path / "orders.csv").write_text("id,date\n" + "anna,2027-01-04\n" * 100_000)
    assert tell("trays.toml") == [
        'trays.toml:78 · run.orders · "orders.csv": is larger than 1,000 kB, which no shop needs · '
        "check that it is the right file"
    ]


def make_link(folder: Path) -> None:
    """A link whose file lies outside the scenario's folder."""
    (folder / "orders.csv").symlink_to("/etc/passwd")


def make_folder_link(folder: Path) -> None:
    """A folder that is a link out of the scenario's folder."""
    outside = folder.parent / "elsewhere"
    outside.mkdir(exist_ok=True)
    (outside / "orders.csv").write_text("id,date\nanna,2027-01-04\n")
    (folder / "books").symlink_to(outside)


def make_circle(folder: Path) -> None:
    """A link to itself."""
    (folder / "orders.csv").symlink_to("orders.csv")


def make_pipe(folder: Path) -> None:
    """A pipe that nobody writes to: to open it would wait for ever."""
    os.mkfifo(folder / "orders.csv")


def make_socket(folder: Path) -> None:
    """A socket, as a program that listens leaves it."""
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind(os.path.relpath(folder / "orders.csv"))


def make_folder(folder: Path) -> None:
    """A folder called like a file."""
    (folder / "orders.csv").mkdir()


NO_PLAIN_FILE = {
    "a link out of the folder": (
        make_link, "orders.csv", "leads out of the scenario's folder", "put the file in the scenario's folder",
    ),
    "a folder that is a link out": (
        make_folder_link, "books/orders.csv", "leads out of the scenario's folder", "put the file in the scenario's folder",
    ),
    "a link to itself": (make_circle, "orders.csv", "cannot be found", "check the name and the folder"),
    "a pipe": (make_pipe, "orders.csv", "is not an ordinary file", "name a file that holds text"),
    "a socket": (make_socket, "orders.csv", "is not an ordinary file", "name a file that holds text"),
    "a folder": (make_folder, "orders.csv", "is a folder, not a file", "name a file in it"),
}  # fmt: skip


@pytest.mark.parametrize("what", NO_PLAIN_FILE)
def test_a_reference_to_what_is_no_file_of_the_folder_opens_nothing(what: str, tell: Tell, tmp_path: Path) -> None:
    make, name, rule, mend = NO_PLAIN_FILE[what]
    folder = tmp_path / "shop"
    folder.mkdir()
    os.chdir(folder)
    make(folder)
    (folder / "trays.toml").write_text(TRAYS.replace("orders = 6", f'orders = "{name}"'))
    (told,) = tell("trays.toml")
    assert told.replace(f'"{name}": ', f'"{name}" ') == f'trays.toml:78 · run.orders · "{name}" {rule} · {mend}'


@pytest.mark.parametrize(
    ("name", "rule", "mend"),
    [
        ("none.toml", "there is no such file", "check the name and the folder"),
        (".", "is a folder, not a file", "name a file in it"),
        ("/dev/zero", "is not an ordinary file", "name a file that holds text"),
        ("/dev/stdin", "is not an ordinary file", "name a file that holds text"),
        ("pipe.toml", "is not an ordinary file", "name a file that holds text"),
        ("circle.toml", "cannot be read: too many levels of symbolic links", "check the name and the disk"),
        ("x" * 300, "cannot be read: file name too long", "check the name and the disk"),
        ("trays.toml/shop", "cannot be read: not a directory", "check the name and the disk"),
    ],
)
def test_a_scenario_that_is_no_file_is_told(name: str, rule: str, mend: str, tell: Tell, tmp_path: Path) -> None:
    (tmp_path / "trays.toml").write_text(TRAYS)
    os.mkfifo(tmp_path / "pipe.toml")
    (tmp_path / "circle.toml").symlink_to("circle.toml")
    assert tell(name) == [f"{name} · {rule} · {mend}"]


def test_a_file_that_may_not_be_read_is_told(tmp_path: Path) -> None:
    """In a process without special rights, as permission bits do not bind the system's manager."""
    path = tmp_path / "trays.toml"
    path.write_text(TRAYS)
    path.chmod(0)
    script = (
        "import os\n"
        "from shopsim.scenario import read_scenario\n"
        "if os.getuid() == 0: os.setgroups([]); os.setgid(65534); os.setuid(65534)\n"
        "print(*read_scenario('trays.toml').faults)\n"
    )
    folder = os.open(tmp_path, os.O_RDONLY)  # whoever has it open may be in it, whatever the rights of those above
    try:
        done = subprocess.run(
            [sys.executable, "-c", script],
            preexec_fn=lambda: os.fchdir(folder),
            pass_fds=(folder,),
            capture_output=True,
            text=True,
            check=False,
        )
    finally:
        os.close(folder)
    assert done.stderr == ""
    assert done.stdout == "trays.toml · may not be read by you · give yourself the right to read it\n"


def test_a_value_set_by_hand_is_told_by_its_setting_and_the_file_by_its_lines(tmp_path: Path) -> None:
    path = tmp_path / "trays.toml"
    path.write_text(TRAYS.replace("spots = 6", 'spots = "six"'))
    reading = read_scenario(path, ["run.batch=0", "shop.clamps.bar clamp.count=1"])
    assert [(fault.file, fault.line, fault.place) for fault in reading.faults] == [
        (str(path), 22, 'shop.racks "drying rack" · spots'),
        (str(path), 48, 'design.operations "glue"'),
        ("--set run.batch=0", None, "run.batch"),
    ]


def test_a_fault_prints_on_one_line_whatever_the_file_is_called(tmp_path: Path) -> None:
    reading = read_scenario_text("orders = 6 h", "a\nb\x1b[2J.toml")
    assert [str(fault).isprintable() for fault in reading.faults] == [True]
    assert isinstance(reading.faults[0], Fault)
