"""Schedules worked out by hand: work that is broken off when its worker leaves, and who goes on with it.

Monday is 2027-01-11; the shop is open 8:00 to 16:00 on weekdays unless a test says so.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from shopsim import RunResult
from shopsim.answers import plan_days
from shopsim.study.measures import Measurer
from shopsim.study.spans import list_spans
from shopsim.study.use import measure_use

pytestmark = pytest.mark.usefixtures("each_floor")

Schedule = Callable[..., dict[str, str]]
RunShop = Callable[..., RunResult]

BY_WHOM = ("start", "done", "worker")


def people(*rows: str) -> str:
    """Workers as ``"name: hours / skills"``: hours of weekdays, or of days as a file has them; without, those of the shop."""
    written = []
    for row in rows:
        name, _, said = row.partition(": ")
        hours, _, skills = said.partition(" / ")
        days = hours if "=" in hours else f'mon-fri = "{hours}"'
        own = f", open = {{ {days} }}" if hours else ""
        can = f", can = {json.dumps(skills.split())}" if skills else ""
        written.append(f'{{ name = "{name}"{own}{can} }}')
    return f"workers = [{', '.join(written)}]"


MONDAY_HELPER = 'helper: mon = "08:00-10:00" / sand'


def test_what_a_helper_of_one_day_a_week_leaves_half_done_does_not_wait_a_week(schedule: Schedule) -> None:
    # The helper is here on Mondays 8-10 and takes the first task, being able to do less. Sanding of 3 h: 2 h by the
    # helper; the maker, who labels from 8:00 to 9:00 and then has nothing to do, goes on at 10:00: done at 11:00.
    operations = '{ name = "sand", after = [], work = "3 h" }, { name = "label", after = [], work = "1 h" }'
    shop = people("maker", MONDAY_HELPER)
    assert schedule(operations, BY_WHOM, shop=shop) == {
        "sand 1": "Mon 11 08:00 - Mon 11 11:00 - helper, then maker",
        "label 1": "Mon 11 08:00 - Mon 11 09:00 - maker",
    }


def test_one_who_is_busy_at_the_break_goes_on_when_free_and_before_other_work(schedule: Schedule) -> None:
    # The helper sands 8:00-10:00 (2 of 3 h) and is gone until next Monday. The maker cuts until 11:00 and then sands
    # the last hour before polishing, which comes first in the file: 11:00-12:00, polishing 12:00-12:30.
    operations = """
    { name = "polish", after = ["cut"], work = "30 min" },
    { name = "cut", after = [], work = "3 h" },
    { name = "sand", after = [], work = "3 h" },
    """
    shop = people("maker", MONDAY_HELPER)
    assert schedule(operations, BY_WHOM, shop=shop) == {
        "cut 1": "Mon 11 08:00 - Mon 11 11:00 - maker",
        "sand 1": "Mon 11 08:00 - Mon 11 12:00 - helper, then maker",
        "polish 1": "Mon 11 12:00 - Mon 11 12:30 - maker",
    }


def test_one_who_is_free_goes_on_when_the_first_leaves_for_lunch_and_keeps_it(schedule: Schedule) -> None:
    # The helper has lunch 12-13, the maker none. Sanding of 6 h: helper 8-12 (4 h), maker 12-14. At 13:00 the helper is
    # back and takes what else there is: labelling 13:00-14:00.
    operations = """
    { name = "sand", after = [], work = "6 h" },
    { name = "wait for glue", after = [], hands = 0, work = "13 h" },
    { name = "label", work = "1 h" },
    """
    shop = people("maker", "helper: 08:00-12:00, 13:00-16:00 / sand label")
    assert schedule(operations, BY_WHOM, shop=shop) == {
        "wait for glue 1": "Mon 11 00:00 - Mon 11 13:00 - ",
        "sand 1": "Mon 11 08:00 - Mon 11 14:00 - helper, then maker",
        "label 1": "Mon 11 13:00 - Mon 11 14:00 - helper",
    }


def test_one_who_cannot_do_it_does_not_take_it_over(schedule: Schedule) -> None:
    # Only the helper sands. Mondays 8-10 (2 of 3 h) and the third hour a week later, while the maker has nothing to do.
    operations = '{ name = "sand", work = "3 h" }, { name = "label", after = [], work = "1 h" }'
    shop = people("maker:  / label", MONDAY_HELPER)
    assert schedule(operations, BY_WHOM, shop=shop) == {
        "sand 1": "Mon 11 08:00 - Mon 18 09:00 - helper",
        "label 1": "Mon 11 08:00 - Mon 11 09:00 - maker",
    }


def test_of_two_who_come_at_one_moment_the_one_who_began_it_goes_on(schedule: Schedule) -> None:
    # Both have lunch 12-13. Ann glues 8:00-8:30; Ben, who can only cut, cuts 8-12 (4 of 5 h). At 13:00 both come. Ben goes
    # on, 13-14. On the second piece Ann has cut 8:30-12:00 (3.5 of 5 h) and goes on as well, 13:00-14:30.
    shop = people("ann: 08:00-12:00, 13:00-16:00", "ben: 08:00-12:00, 13:00-16:00 / cut", "cora: 18:00-19:00")
    operations = (
        '{ name = "glue", per = "run", after = [], work = "30 min" }, { name = "cut", after = [], work = "5 h" }'
    )
    rows = schedule(operations, BY_WHOM, shop=shop, run="orders = 2", open='{ mon-fri = "08:00-19:00" }')
    assert rows["cut 1"] == "Mon 11 08:00 - Mon 11 14:00 - ben"
    assert rows["cut 2"] == "Mon 11 08:30 - Mon 11 14:30 - ann"


def test_the_one_who_began_goes_on_even_if_another_had_it_last_and_can_do_less(schedule: Schedule) -> None:
    # Ann alone is there on Monday at 8:00 and cuts until 9:00 (1 of 5 h); Cora, who can only cut, 9-11 (3 h). On Tuesday
    # both come at 8:00: Ann, who began it, goes on until she leaves at 9:00 (4 h), and Cora does the last hour.
    shop = people("ann: 08:00-09:00", 'cora: mon = "09:00-11:00", tue = "08:00-12:00" / cut')
    operations = '{ name = "cut", after = [], work = "5 h" }, { name = "sand", work = "5 min" }'
    assert schedule(operations, BY_WHOM, shop=shop)["cut 1"] == (
        "Mon 11 08:00 - Tue 12 10:00 - ann, then cora, then ann, then cora"
    )


def test_the_one_who_took_over_leaves_as_well_and_the_first_goes_on_in_the_morning(schedule: Schedule) -> None:
    # 10 h of cutting: maker 8-12 (4 h), helper 12-14 (2 h), nobody until Tuesday 8:00, the maker again 8-12: done.
    shop = people("maker: 08:00-12:00", "helper: 12:00-14:00")
    assert schedule('{ name = "cut", work = "10 h" }', BY_WHOM, shop=shop) == {
        "cut 1": "Mon 11 08:00 - Tue 12 12:00 - maker, then helper, then maker"
    }


def test_broken_off_work_goes_before_clamps_off_and_clamps_off_before_new_work(schedule: Schedule) -> None:
    # The helper sands 8:00-10:00 (2 of 3 h). The maker glues 8:00-8:10, in clamps until 10:00, and labels 8:10-10:00.
    # At 10:00 the maker goes on sanding until 11:00, takes the clamps off until 11:06, then polishes.
    operations = """
    { name = "glue", after = [], work = "10 min", clamps = [{ count = 1, kind = "band" }], in_clamps = "110 min", \
unclamp = "6 min" },
    { name = "label", after = [], work = "110 min" },
    { name = "polish", after = ["label"], work = "20 min" },
    { name = "sand", after = [], work = "3 h" },
    """
    shop = people("maker", MONDAY_HELPER) + '\nclamps = [{ name = "band", count = 1 }]'
    assert schedule(operations, ("start", "in_clamps_until", "done", "worker"), shop=shop) == {
        "glue 1": "Mon 11 08:00 - Mon 11 11:06 - Mon 11 11:06 - maker",
        "label 1": "Mon 11 08:10 - - - Mon 11 10:00 - maker",
        "sand 1": "Mon 11 08:00 - - - Mon 11 11:00 - helper, then maker",
        "polish 1": "Mon 11 11:06 - - - Mon 11 11:26 - maker",
    }


def test_it_keeps_its_station_meanwhile(schedule: Schedule) -> None:
    # Only the helper sands: Monday 8-10 (2 of 3 h) and 10-11 a week later. The maker's cutting at the same bench waits.
    operations = """
    { name = "sand", after = [], station = "bench", work = "3 h" },
    { name = "cut", after = [], station = "bench", work = "1 h" },
    """
    shop = people("maker:  / cut", MONDAY_HELPER) + '\nstations = [{ name = "bench" }]'
    assert schedule(operations, BY_WHOM, shop=shop) == {
        "sand 1": "Mon 11 08:00 - Mon 18 09:00 - helper",
        "cut 1": "Mon 18 09:00 - Mon 18 10:00 - maker",
    }


def test_who_comes_in_takes_up_their_own_before_what_was_broken_off_earlier(schedule: Schedule) -> None:
    # Cora leaves her sanding at 10:00 (2 of 9 h), Ann her cutting at 12:00 (4 of 6 h). On Tuesday Ann comes at 8:00 and
    # Cora at 9:00. Ann goes on cutting 8-10; Cora sands 9-10 (3 h), and Ann after her: 10-12 (5 h), and so on.
    shop = people("ann: 08:00-12:00", 'cora: mon = "08:00-10:00", tue = "09:00-10:00" / sand')
    operations = '{ name = "cut", after = [], work = "6 h" }, { name = "sand", after = [], work = "5 h" }'
    assert schedule(operations, BY_WHOM, shop=shop) == {
        "cut 1": "Mon 11 08:00 - Tue 12 10:00 - ann",
        "sand 1": "Mon 11 08:00 - Tue 12 12:00 - cora, then ann",
    }


def test_of_two_pieces_broken_off_the_first_to_be_left_goes_on_first(schedule: Schedule) -> None:
    # Ann leaves the first piece at 9:00 (1 of 2 h), Ben the second at 10:00 (2 of 3 h). Cora, who comes at 11:00, does the
    # rest of the first until 12:00, then that of the second until 13:00.
    shop = people("ann: 08:00-09:00", "ben: 08:00-10:00", "cora: 11:00-16:00")
    operations = """
    { name = "cut", after = [], work = "2 h" },
    { name = "sand", after = [], work = "3 h" },
    """
    assert schedule(operations, BY_WHOM, shop=shop) == {
        "cut 1": "Mon 11 08:00 - Mon 11 12:00 - ann, then cora",
        "sand 1": "Mon 11 08:00 - Mon 11 13:00 - ben, then cora",
    }


def test_work_for_two_goes_on_with_the_first_two_who_are_there_together(schedule: Schedule) -> None:
    # Ann and Ben lift 8:00-10:00 (2 of 4 h); Ben is gone. Cora comes at 13:00: with Ann 13:00-15:00. Between, Ann cuts.
    shop = people("ann", "ben: 08:00-10:00", "cora: 13:00-16:00")
    operations = (
        '{ name = "lift", after = [], hands = 2, work = "4 h" }, { name = "cut", after = [], work = "150 min" }'
    )
    assert schedule(operations, BY_WHOM, shop=shop) == {
        "lift 1": "Mon 11 08:00 - Mon 11 15:00 - ann + ben, then ann + cora",
        "cut 1": "Mon 11 10:00 - Mon 11 12:30 - ann",
    }


def test_of_three_who_can_and_two_who_are_wanted_those_who_began_go_on(schedule: Schedule) -> None:
    # Ben and Cora can only lift and begin: 8:00-12:00 (4 of 6 h). Ann has no lunch and is alone until 13:00. At 13:00 all
    # three are there: Ben and Cora go on, 13:00-15:00.
    shop = people("ann", "ben: 08:00-12:00, 13:00-16:00 / lift", "cora: 08:00-12:00, 13:00-16:00 / lift")
    operations = '{ name = "lift", hands = 2, work = "6 h" }, { name = "cut", after = [], work = "1 h" }'
    assert schedule(operations, BY_WHOM, shop=shop)["lift 1"] == "Mon 11 08:00 - Mon 11 15:00 - ben + cora"


def test_three_can_two_are_wanted_and_one_leaves_first(schedule: Schedule) -> None:
    # Ben and Cora begin: 8:00-9:00 (1 of 4 h), then Ben is gone for the day. Cora stays with it and Ann joins: 9:00-12:00.
    shop = people("ann", "ben: 08:00-09:00 / lift", "cora:  / lift")
    operations = '{ name = "lift", after = [], hands = 2, work = "4 h" }, { name = "cut", after = [], work = "1 h" }'
    assert schedule(operations, BY_WHOM, shop=shop) == {
        "lift 1": "Mon 11 08:00 - Mon 11 12:00 - ben + cora, then ann + cora",
        "cut 1": "Mon 11 08:00 - Mon 11 09:00 - ann",
    }


def test_clamps_that_are_half_off_come_off_with_the_next_who_is_there(schedule: Schedule) -> None:
    # Glued 8:00-8:10 by the maker, in clamps until 9:50. The helper, free, takes them off from 9:50; 20 min would be
    # 10:10, but leaves at 10:00 with 10 min to go. The maker labels until 11:00, then takes the rest off: 11:10.
    operations = """
    { name = "glue", after = [], work = "10 min", clamps = [{ count = 1, kind = "band" }], in_clamps = "100 min", \
unclamp = "20 min" },
    { name = "label", after = [], work = "170 min" },
    """
    shop = people("maker", MONDAY_HELPER)
    shop += '\nclamps = [{ name = "band", count = 1 }]'
    operations += '{ name = "sand", after = ["label"], work = "5 min" },'
    assert schedule(operations, ("start", "in_clamps_until"), shop=shop) == {
        "glue 1": "Mon 11 08:00 - Mon 11 11:10",
        "label 1": "Mon 11 08:10 - -",
        "sand 1": "Mon 11 11:10 - -",
    }


def test_interrupted_days_slow_whoever_goes_on(schedule: Schedule) -> None:
    # At half the pace: 3 h of work are 6 h of the clock. Helper 8:00-10:00 (1 h of work), maker 10:00-14:00 (2 h).
    shop = people("maker", MONDAY_HELPER) + '\ninterrupted = "50 %"'
    operations = '{ name = "sand", work = "3 h" }, { name = "label", work = "5 min" }'
    assert schedule(operations, BY_WHOM, shop=shop)["sand 1"] == "Mon 11 08:00 - Mon 11 14:00 - helper, then maker"


def test_a_set_up_that_is_broken_off_is_gone_on_with_and_not_made_again(schedule: Schedule) -> None:
    # Set-up 3 h and 1 h of work: helper 8-10, maker 10-12.
    shop = people("maker", MONDAY_HELPER) + '\nstations = [{ name = "bench" }]'
    operations = '{ name = "sand", station = "bench", setup = "3 h", work = "1 h" }, { name = "label", work = "5 min" }'
    assert schedule(operations, ("done", "setup_min", "worker"), shop=shop)["sand 1"] == (
        "Mon 11 12:00 - 180 - helper, then maker"
    )


RELAY = '{ name = "sand", work = "3 h" }, { name = "label", work = "30 min" }'


def test_everything_that_is_read_from_a_run_says_who_did_which_part(run_shop: RunShop) -> None:
    # Sanding: helper 8-10, maker 10-11 and labelling 11:00-11:30. The helper can do only that, so is away from 10 on.
    run = run_shop(RELAY, shop=people("maker", MONDAY_HELPER))
    said = [
        f"{row.operation}: {row.since:%H:%M}-{row.until:%H:%M} {row.worker}" for row in list_spans(run).itertuples()
    ]
    assert said == ["sand: 08:00-10:00 helper", "sand: 10:00-11:00 maker", "label: 11:00-11:30 maker"]
    use: Any = measure_use(run)
    hours = use[use["kind"] == "worker"].set_index(["name", "state"])["hours"].round(6)
    assert hours["helper"].to_dict() == {
        "working": 2.0, "set-up": 0.0, "taking clamps off": 0.0, "idle": 0.0, "away": 9.5,
    }  # fmt: skip
    assert hours["maker"].to_dict() == {
        "working": 1.5, "set-up": 0.0, "taking clamps off": 0.0, "idle": 2.0, "away": 8.0,
    }  # fmt: skip
    measured = Measurer(run.plan).measure(run.draws, run.record).rows[0, 7]
    assert measured == pytest.approx(2.0)  # hours with idle hands: the maker's from 8 to 10
    plan = plan_days(run)
    assert plan[["do", "operation", "worker", "hands_on_min"]].to_numpy().tolist()[:2] == [
        ["work", "sand", "maker + helper", 180.0],
        ["work", "label", "maker", 30.0],
    ]
    levels = run.use[run.use["kind"] == "worker"]
    busy = levels[levels["in_use"] == 1]
    rows = busy[["name", "since", "until"]].itertuples(index=False)
    assert [f"{name} {since:%H:%M}-{until:%H:%M}" for name, since, until in rows] == [
        "maker 10:00-11:00", "maker 11:00-11:30", "helper 08:00-10:00",
    ]  # fmt: skip


def test_the_time_it_lay_broken_off_waits_for_a_worker_or_for_the_shop_to_open(run_shop: RunShop) -> None:
    # Only the helper sands: Monday 8-10 and Tuesday 8-9. 6 h of Monday until closing at 16:00 wait for a worker, the
    # night of 16 h is closed; before 8:00 on Monday 8 h are closed as well.
    run = run_shop('{ name = "sand", work = "3 h" }, { name = "label", after = [], work = "5 min" }',
                   shop=people("maker:  / label", "helper: 08:00-10:00 / sand"))  # fmt: skip
    parts = run.holdups.groupby("part")["minutes"].sum().to_dict()
    assert parts == {"shop closed": 24 * 60, "hands-on": 180, "worker": 6 * 60}


LIFT_4 = '{ name = "lift", after = [], hands = 2, work = "4 h" }, { name = "cut", after = [], work = "5 min" }'


def test_who_began_it_and_is_there_stays_with_it_although_others_stand_before_them(schedule: Schedule) -> None:
    # Ben and Cora lift 8-9; then Ben leaves, and Dora and Emma come, who stand before Cora in the file. Cora goes on, and
    # of the other two Dora: 9-12.
    shop = people(
        "dora: 09:00-16:00 / lift",
        "emma: 09:00-16:00 / lift",
        "ben: 08:00-09:00 / lift",
        "cora:  / lift",
        "ann:  / cut",
    )
    rows = schedule(LIFT_4, BY_WHOM, shop=shop)
    assert rows["lift 1"] == "Mon 11 08:00 - Mon 11 12:00 - ben + cora, then dora + cora"


def test_who_had_it_last_and_is_there_stays_with_it_as_well(schedule: Schedule) -> None:
    # Ann and Ben lift 8-9 and leave; Finn and Gus go on 9-10. Finn leaves, Dora and Emma come: Gus stays, with Dora, 10-12.
    shop = people(
        "dora: 10:00-16:00 / lift", "emma: 10:00-16:00 / lift", "ann: 08:00-09:00 / lift", "ben: 08:00-09:00 / lift",
        "finn: 09:00-10:00 / lift", "gus: 09:00-16:00 / lift", "maker:  / cut",
    )  # fmt: skip
    rows = schedule(LIFT_4, BY_WHOM, shop=shop)
    assert rows["lift 1"] == "Mon 11 08:00 - Mon 11 12:00 - ann + ben, then finn + gus, then dora + gus"


def test_work_for_two_that_was_broken_off_goes_before_clamps_that_are_due_at_that_moment(schedule: Schedule) -> None:
    # Ann glues 8:00-8:10; then both lift until Ben leaves at 11:00 (170 of 240 min). At 12:10 Ben is back and the clamps
    # are due: they lift on, 70 min until 13:20, and only then the clamps come off, by Ben, who can do less: 13:25.
    shop = people("ann", "ben: 08:00-11:00, 12:10-16:00 / lift") + '\nclamps = [{ name = "band", count = 1 }]'
    operations = """
    { name = "glue", after = [], work = "10 min", clamps = [{ count = 1, kind = "band" }], in_clamps = "4 h", \
unclamp = "5 min" },
    { name = "lift", after = [], hands = 2, work = "4 h" },
    """
    assert schedule(operations, ("start", "in_clamps_until", "done"), shop=shop) == {
        "glue 1": "Mon 11 08:00 - Mon 11 13:25 - Mon 11 13:25",
        "lift 1": "Mon 11 08:10 - - - Mon 11 13:20",
    }


def test_somebody_who_never_leaves_is_done_beside_a_helper_with_hours(schedule: Schedule) -> None:
    # The shop never closes; glued from midnight on, in clamps for an hour, and off by whoever is there, the maker.
    glue = '{ name = "glue", work = "10 min", clamps = [{ kind = "bar clamp", count = 1 }], in_clamps = "1 h", unclamp = "10 min" }'
    people_and_clamps = (
        people("maker", 'helper: mon = "08:00-10:00"') + '\n[[shop.clamps]]\nname = "bar clamp"\ncount = 1\n'
    )
    found = schedule(glue, ("start", "done", "worker"), shop=people_and_clamps, open='"always"')
    assert found == {"glue 1": "Mon 11 00:00 - Mon 11 01:20 - maker"}
