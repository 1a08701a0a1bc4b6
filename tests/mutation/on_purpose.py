"""Changes of the rules of the shop, and of luck, that somebody might make on purpose or by mistake: all must be noticed."""

from __future__ import annotations

from typing import NamedTuple


class Purpose(NamedTuple):
    """A change of one file below ``shopsim/``: what it makes of the shop, and the code before (there once) and after."""

    what: str
    file: str
    before: str
    after: str


FLOOR, HOURS, LUCK, STEPS = "engine/floor.py", "engine/hours.py", "engine/luck.py", "engine/steps.py"
LINKS, TIMES, DAYS, PIECES = "engine/links.py", "engine/task_times.py", "engine/days.py", "engine/pieces.py"

ON_PURPOSE = (
    # ---- clamps, cures and racks
    Purpose("cure counts from the start of the work", FLOOR,
            "        cured = now + cure_min[task]\n", "        cured = max(now, start[task] + cure_min[task])\n"),
    Purpose("cure after clamps counts from when they are off", FLOOR,
            "cured = end[task] + cure_min[task]", "cured = now + cure_min[task]"),
    Purpose("a longer clamp does not serve a shorter need", STEPS, "kind.reach >= reach)", "kind.reach == reach)"),
    Purpose("a shorter clamp serves a longer need", STEPS, "kind.reach >= reach)", "kind.reach > 0)"),
    Purpose("the longest clamps are taken first", STEPS,
            "serving.append((tuple(n for _, n in fit), count))", "serving.append((tuple(n for _, n in fit[::-1]), count))"),
    Purpose("needs of clamps by reach take theirs before those by name", STEPS,
            "return (*named, *serving)", "return (*serving, *named)"),
    Purpose("clamps come off while nobody is there", FLOOR,
            "off = min(curve.next_at_work(due) for curve in hours) if due > now else due", "off = due"),
    Purpose("taking clamps off needs nobody", FLOOR,
            "if step_unclamp[step] and unclamp_min[task] > 0:", "if step_unclamp[step] and unclamp_min[task] > 1e9:"),
    Purpose("clamps are free as soon as the work ends", FLOOR,
            "        if step_held[step]:\n", "        if step_held[step] and not step_timed_hold[step]:\n"),
    Purpose("rack spots are never given back", FLOOR,
            "spots_free[step_rack[step]] += step_spots[step] * task_units[task]", "pass"),
    Purpose("each task fills one spot, whatever its units", FLOOR,
            "spots_free[step_rack[step]] -= step_spots[step] * task_units[task]", "spots_free[step_rack[step]] -= task_units[task]"),
    Purpose("a station where the piece stays is free when the work ends", FLOOR,
            "if unit >= 0 and not step_stays[step]:", "if unit >= 0:"),
    # ---- set-up and stations
    Purpose("set-up takes no time", FLOOR, "            minutes += setup_min[task]\n", "            minutes += 0.0\n"),
    Purpose("a station forgets overnight what it was set for", FLOOR,
            "pays = unit_last[unit] != step",
            "pays = unit_last[unit] != step or unit_used[unit] // MINUTES_PER_DAY != now // MINUTES_PER_DAY"),
    Purpose("set-up without a station is paid by every task", FLOOR,
            "pays = not setup_paid[entry_setup[entry]]", "pays = True"),
    Purpose("a station that is set does not go first", FLOOR,
            "for only_set in (True, False) if len(active) > 1 else (False,):", "for only_set in (False,):"),
    Purpose("any free unit of a station is taken, set or not", FLOOR, "if unit_last[unit] == step:", "if unit < 0:"),
    # ---- people and hours
    Purpose("work for two is done by one", FLOOR, "                if not wanted:\n", "                if chosen:\n"),
    Purpose("what two have done before one went home is lost", FLOOR,
            "at(first_close, (task, minutes - worked), when_halt)", "at(first_close, (task, minutes), when_halt)"),
    Purpose("nobody looks whether it fits before closing", FLOOR,
            "                if not step_pausable[step]:\n                    curve", "                if False:\n                    curve"),
    Purpose("set-up is left out when asking whether it fits", FLOOR,
            "likely = entry_likely[entry] + step_likely_setup[step] if pays else entry_likely[entry]",
            "likely = entry_likely[entry]"),
    Purpose("work goes on through the night", FLOOR,
            "finish = curve.finish(now, minutes) if step_pausable[step] else curve.finish_late(now, minutes)",
            "finish = curve.finish_late(now, minutes)"),
    Purpose("lunch is ignored", HOURS,
            "for start, end in pattern[(weekday + day) % 7]:",
            "for start, end in [(every[0][0], every[-1][1]) for every in [pattern[(weekday + day) % 7]] if every]:"),
    Purpose("the helper's own hours are ignored", HOURS,
            "hours = None if worker is None else shop.workers[worker].open", "hours = None"),
    Purpose("the last day of a holiday is worked", HOURS, "(last - self.day0).days + 1", "(last - self.day0).days"),
    Purpose("a moment at closing is rounded to the minute", HOURS,
            "return to_tick(self.start[n] + (total - self.done[n]) / self.rate[n])",
            "return float(round(self.start[n] + (total - self.done[n]) / self.rate[n]))"),
    Purpose("the worker with the most skills is taken first", STEPS,
            "return tuple(n for _, n in sorted(able))", "return tuple(n for _, n in sorted(able, key=lambda a: (-a[0], a[1])))"),
    # ---- air, batches, order of work
    Purpose("dust may start beside wet finish", FLOOR,
            "(n_wet and step_dusty[step]) or (n_dusty and step_wet[step])", "n_dusty and step_wet[step]"),
    Purpose("wet finish may start while dust flies", FLOOR,
            "(n_wet and step_dusty[step]) or (n_dusty and step_wet[step])", "n_wet and step_dusty[step]"),
    Purpose("wet ends with the work", FLOOR, "if wet_min[task] > 0 and any_dusty:", "if wet_min[task] > 1e9:"),
    Purpose("one batch more than said is open", FLOOR,
            "n_opened - n_finished < work.batches_open", "n_opened - n_finished <= work.batches_open"),
    Purpose('wait_for = "batch" is ignored', LINKS,
            'waits = work.steps[n].operation.wait_for == "batch"', "waits = False"),
    Purpose("work of the whole batch waits for options that lack its order", LINKS,
            "for number in sorted(variants):", "for number in sorted(variants | among):"),
    Purpose("a batch as ordered opens with its first order", "scenario/batches.py",
            "max(start, *(came[n] for n in cut))", "max(start, min(came[n] for n in cut))"),
    Purpose("ties go to the operation later in the file", "engine/floor_plan.py",
            "keys.append((*lead, batch, n, entry))", "keys.append((*lead, batch, -n, entry))"),
    Purpose("ties go to the younger batch", "engine/floor_plan.py",
            "keys.append((*lead, batch, n, entry))", "keys.append((*lead, -batch, n, entry))"),
    Purpose("the tail leaves out curing", STEPS,
            "return span + max(clamped, operation.cure.likely if operation.cure else 0.0)", "return span + clamped"),
    Purpose("material arrives a day early", LUCK,
            "self.ordered_min + lead + late_days * MINUTES_PER_DAY + rest",
            "self.ordered_min + lead + late_days * MINUTES_PER_DAY + rest - MINUTES_PER_DAY"),
    Purpose("material does not hold back the work", FLOOR, "        if outstanding[entry]:\n", "        if False:\n"),
    # ---- luck
    Purpose("redo at double chance", TIMES, "REDO_CHANCE, self.key) < self.chance)", "REDO_CHANCE, self.key) < 2 * self.chance)"),
    Purpose("bias applies to values that never vary", TIMES,
            "values = self.still.copy()", "values = self.still * math.exp(shift)"),
    Purpose("learning counts from the unit after", TIMES,
            "return 1.0 if rate == 1.0 or unit == 1 else float(unit) ** math.log2(rate)",
            "return 1.0 if rate == 1.0 else float(unit + 1) ** math.log2(rate)"),
    Purpose("learning begins anew with each batch", TIMES,
            "start=worklist.task_nth_unit[task] + 1)",
            "start=worklist.task_nth_unit[task] % max(worklist.batches[0].size, 1) + 1)"),
    Purpose("all days are interrupted alike", DAYS,
            "math.sqrt(DAY_SHARED) * shared + math.sqrt(1 - DAY_SHARED) * own", "shared + 0.0 * own"),
    Purpose("days share nothing", DAYS,
            "math.sqrt(DAY_SHARED) * shared + math.sqrt(1 - DAY_SHARED) * own", "0.0 * shared + own"),
    Purpose("lost days are worked", HOURS, "there = ~lost[day]", "there = lost[day] >= 0"),
    Purpose("interruptions do not slow the work", HOURS, "share[day[there]]", "np.ones(int(there.sum()))"),
    Purpose("every piece has the same unit luck", TIMES,
            "return int(unit_key(step_key, unit))", "return int(unit_key(step_key, 0))"),
    Purpose("pace is forgotten", LUCK, "pace = beliefs.pace_spread * z_pace", "pace = 0.0 * z_pace"),
    Purpose("a guess is as sure as a timed value", "engine/learned.py",
            'guess = operation.basis == "guess"', 'guess = operation.basis == "none"'),
    Purpose("packing is forgotten", STEPS, "    if shipping.packing is not None:\n", "    if False:\n"),
    # ---- what a buyer sees
    Purpose("a piece done at the minute of the pick-up is left behind", PIECES,
            "picked_today & (done - day * MINUTES_PER_DAY > shipping.pick_up_at)",
            "picked_today & (done - day * MINUTES_PER_DAY >= shipping.pick_up_at)"),
    Purpose("a piece done at midnight belongs to the day that begins", PIECES,
            "np.maximum(np.ceil(done / MINUTES_PER_DAY) - 1, 0)", "np.floor(done / MINUTES_PER_DAY)"),
    Purpose("waiting for the clamps left by a longer need is not put down to clamps", "engine/waits.py",
            "free - taken < count", "free < count"),
    Purpose("transit is ignored", "answers/transit.py",
            "np.busday_offset(shipped, transit, roll", "np.busday_offset(shipped, 0 * transit, roll"),
)  # fmt: skip
