"""It holds that a study kept in a file comes back whole, goes on as if it had never been away, and that no other file does."""

from __future__ import annotations

import json
import random
import zipfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shopsim import Waiting, load_scenario, own_law
from shopsim.errors import InputError
from shopsim.scenario import Scenario, change_scenario, parse_scenario
from shopsim.study import Study, extend_study, open_study, run_study

ARRAYS = ("replications", "measured", "order_days", "clamp_peaks")
#: What a study kept by form 1 of the file holds.
PARTS = {"study.json", *(f"000-{name}.npy" for name in ARRAYS), "000-scenario.toml"}


def same(one: Study, other: Study) -> bool:
    """Whether two studies are equal to the last bit."""
    about = ("seed", "wanted", "version", "first", "own_rule", "names", "scenario_hash")
    return all(getattr(one, name) == getattr(other, name) for name in about) and all(
        getattr(one.outcomes[name], array).tobytes() == getattr(other.outcomes[name], array).tobytes()
        for name in one.names
        for array in ARRAYS
    )


@pytest.fixture
def alternatives(trays: Path) -> dict[str, Scenario]:
    scenario = load_scenario(trays)
    return {"now": scenario, "one by one": change_scenario(scenario, {"run.batch": 1})}


@pytest.fixture
def kept(alternatives: dict[str, Scenario], tmp_path: Path) -> Path:
    path = tmp_path / "trays.study"
    run_study(alternatives, replications=6, seed=9).save(path)
    return path


def test_a_study_comes_back_as_it_was(alternatives: dict[str, Scenario], kept: Path) -> None:
    study = run_study(alternatives, replications=6, seed=9)
    opened = open_study(kept)
    assert same(opened, study)
    assert {name: outcome.scenario for name, outcome in opened.outcomes.items()} == alternatives
    assert opened.complete
    assert opened.rows.equals(study.rows)


def test_the_file_is_plain_and_the_same_study_gives_the_same_bytes(kept: Path, tmp_path: Path) -> None:
    again = tmp_path / "again.study"
    open_study(kept).pick(["now"]).save(again)
    first = again.read_bytes()
    open_study(again).save(again)
    assert again.read_bytes() == first
    with zipfile.ZipFile(again) as archive:
        assert set(archive.namelist()) == PARTS
        head = json.loads(archive.read("study.json"))
        assert "title = " in archive.read("000-scenario.toml").decode()
    assert (head["seed"], head["title"], head["alternatives"][0]["replications"]) == (9, "Four trays", 6)


@pytest.mark.usefixtures("simpy_only")  # whose runs are made one at a time
@pytest.mark.parametrize("way", ["here", "executor", "stopped"])
def test_opened_and_extended_it_is_the_study_run_in_one_go(
    alternatives: dict[str, Scenario], tmp_path: Path, way: str
) -> None:
    whole = run_study(alternatives, replications=12, seed=4)
    path = tmp_path / "part.study"
    asked = iter(range(1000))
    part = run_study(
        alternatives, replications=12 if way == "stopped" else 5, seed=4,
        should_stop=(lambda: next(asked) >= 7) if way == "stopped" else None,
    )  # fmt: skip
    part.save(path)
    assert open_study(path).complete is (way != "stopped")
    seen: list[tuple[int, int]] = []
    with ThreadPoolExecutor(2) as executor:
        longer = extend_study(
            open_study(path), 12, executor=executor if way == "executor" else None,
            on_progress=lambda done, total: seen.append((done, total)),
        )  # fmt: skip
    assert same(longer, whole)
    left = 2 * (12 - part.replications)
    assert seen[-1] == (left, left)


@pytest.mark.usefixtures("simpy_only")  # that makes one run at a time
def test_stopped_while_it_is_extended_it_keeps_what_is_done(kept: Path) -> None:
    asked = iter(range(1000))
    longer = extend_study(open_study(kept), 20, should_stop=lambda: next(asked) >= 5)
    assert 6 < longer.replications < 20
    assert not longer.complete
    assert same(longer.head(6), open_study(kept).head(6))


def test_fewer_than_there_are_gives_the_first_ones(alternatives: dict[str, Scenario], kept: Path) -> None:
    assert same(extend_study(open_study(kept), 4), run_study(alternatives, replications=4, seed=9))


def test_orders_of_a_csv_file_are_kept_with_it(write_shop: Callable[..., str], tmp_path: Path) -> None:
    (tmp_path / "orders.csv").write_text(
        'id,date,quantity,destination\n"A, 1",2027-01-04 14:30,2,far\n"says ""soon""",2027-01-05,1,\n', "utf-8"
    )
    text = write_shop('{ name = "cut", work = "1 / 2 / 3 h" }', run='orders = "orders.csv"\nrelease = "as ordered"')
    scenario = parse_scenario(text, folder=tmp_path)
    study = run_study({"now": scenario}, replications=3)
    study.save(tmp_path / "orders.study")
    (tmp_path / "orders.csv").unlink()
    opened = open_study(tmp_path / "orders.study")
    assert same(opened, study)
    assert [order.id for order in opened.outcomes["now"].queue.orders] == ["A, 1", 'says "soon"']


def test_a_law_of_the_users_own_cannot_be_kept_and_the_old_file_stays(kept: Path, trays: Path) -> None:
    before = kept.read_bytes()
    scenario = change_scenario(load_scenario(trays), {"design.operations[0].work": own_law(np.abs, 3.0)})
    with pytest.raises(InputError, match="a law of your own"):
        run_study({"now": scenario}, replications=2).save(kept)
    assert kept.read_bytes() == before


def by_piece(task: Waiting) -> object:
    return -task.piece


def test_under_a_rule_of_the_users_own_it_goes_on_under_that_rule_only(trays: Path, tmp_path: Path) -> None:
    scenario = {"now": load_scenario(trays)}
    run_study(scenario, replications=3, rule=by_piece).save(tmp_path / "own.study")
    study = open_study(tmp_path / "own.study")
    with pytest.raises(InputError, match="hand it in as rule="):
        extend_study(study, 5)
    with pytest.raises(InputError, match="the priority rule has changed"):
        extend_study(study, 5, rule=lambda task: task.piece)
    assert same(extend_study(study, 5, rule=by_piece), run_study(scenario, replications=5, rule=by_piece))


def test_what_this_version_would_not_come_to_is_not_added_to(kept: Path) -> None:
    study = open_study(kept)
    study.outcomes["now"].measured[0, 1] += 1
    with pytest.raises(InputError, match="run the study anew"):
        extend_study(study, 8)


@pytest.mark.parametrize("replications", [0, -2, True, 2.5, "9"])
def test_a_number_of_replications_that_is_none_is_refused(kept: Path, replications: Any) -> None:
    with pytest.raises(InputError, match=r"replications = .* cannot be used · write a whole number from 1"):
        extend_study(open_study(kept), replications)


def test_a_study_of_another_version_is_read_but_not_added_to(kept: Path) -> None:
    repack(kept, put_head(version="0.0.9"))
    study = open_study(kept)
    assert study.values("now", "last_ship_day").size == 6
    assert extend_study(study, 4).replications == 4
    with pytest.raises(InputError, match=r"made with version 0\.0\.9, and this is .* run it anew"):
        extend_study(study, 8)


def repack(path: Path, change: Callable[[dict[str, bytes]], None]) -> None:
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    change(parts)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)


def put_head(**values: object) -> Callable[[dict[str, bytes]], None]:
    def change(parts: dict[str, bytes]) -> None:
        parts["study.json"] = json.dumps({**json.loads(parts["study.json"]), **values}).encode()

    return change


def swap(name: str, content: bytes) -> Callable[[dict[str, bytes]], None]:
    return lambda parts: parts.update({name: content})


def reorder(parts: dict[str, bytes]) -> None:
    parts["000-replications.npy"] = parts["000-replications.npy"][:-8] + bytes(8)


def twice(parts: dict[str, bytes]) -> None:
    head = json.loads(parts["study.json"])
    head["alternatives"] = [head["alternatives"][0]] * 2
    parts["study.json"] = json.dumps(head).encode()


def unnumbered(parts: dict[str, bytes]) -> None:
    parts["000-measured.npy"] = parts["000-measured.npy"][:-8] + np.array([np.nan]).tobytes()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (put_head(what="something else"), "no study that this program saved"),
        (put_head(form=99), "later version"),
        (put_head(measures=["days"]), "measures other things"),
        (put_head(seed=-1), '"seed" is -1'),
        (put_head(alternatives=[]), "holds 0 alternatives"),
        (put_head(alternatives=7), '"alternatives" is missing'),
        (swap("study.json", b"[" * 100_000), "no study that this program saved"),
        (swap("000-scenario.toml", b"title = 3"), "cannot be used"),
        (swap("000-scenario.toml", b"\xff\xfe"), "it is no text"),
        (swap("000-measured.npy", b"\x93NUMPY\x01\x00"), "an array is not what it should be"),
        (lambda parts: parts.pop("000-measured.npy"), '"000-measured.npy" is missing'),
        (lambda parts: parts.update({"000-measured.npy": parts["000-order_days.npy"]}), "an array is not"),
        (reorder, "not in order"),
        (put_head(even_block=6), '"even_block" is 6'),
        (put_head(first_replication=True), '"first_replication" is True'),
        (twice, 'holds "now" twice'),
        (unnumbered, "holds what is no number"),
        (swap("000-replications.npy", b"\x93NUMPY\x02\x00"), "an array is not what it should be"),
    ],
)
def test_a_file_that_was_tampered_with_is_refused_with_the_mend(
    kept: Path, change: Callable[[dict[str, bytes]], None], said: str
) -> None:
    repack(kept, change)
    with pytest.raises(InputError, match=said) as told:
        open_study(kept)
    assert str(told.value).startswith(f"{kept} · ")
    assert str(told.value).count(" · ") == 2


def test_a_file_that_holds_a_part_twice_is_refused(kept: Path) -> None:
    with zipfile.ZipFile(kept, "a") as archive, pytest.warns(UserWarning, match="Duplicate name"):
        archive.writestr("study.json", archive.read("study.json"))
    with pytest.raises(InputError, match="holds a part twice"):
        open_study(kept)


def test_a_file_packed_in_a_way_this_program_never_packs_is_refused(kept: Path) -> None:
    with zipfile.ZipFile(kept, "a", zipfile.ZIP_BZIP2) as archive:
        archive.writestr("more", b"more")
    with pytest.raises(InputError, match="no study that this program saved"):
        open_study(kept)


def test_a_scenario_that_was_changed_afterwards_is_refused(kept: Path) -> None:
    repack(kept, lambda parts: parts.update({"000-scenario.toml": parts["001-scenario.toml"]}))
    with pytest.raises(InputError, match="not the one that was run"):
        open_study(kept)


def test_other_files_and_broken_ones_are_refused_and_never_crash(kept: Path, trays: Path, tmp_path: Path) -> None:
    content = kept.read_bytes()
    broken = tmp_path / "broken.study"
    rng = random.Random(1)
    for number in range(60):
        damaged = bytearray(content)
        if number % 2:
            del damaged[rng.randrange(len(damaged)) :]
        else:
            damaged[rng.randrange(len(damaged))] ^= 1 << rng.randrange(8)
        broken.write_bytes(damaged)
        try:
            opened = open_study(broken)
        except InputError:
            continue
        assert same(opened, open_study(kept)), "a damage that is not refused must not matter"
    for path in (trays, tmp_path, tmp_path / "none.study"):
        with pytest.raises(InputError, match=" · "):
            open_study(path)


def test_it_cannot_be_written_where_there_is_no_folder(kept: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="its folder does not exist"):
        open_study(kept).save(tmp_path / "nowhere" / "a.study")
