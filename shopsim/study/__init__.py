"""What happens, many times: replications on the same luck, measures, intervals and choices."""

from shopsim.study.choosing import Choice, choose_best, find_survivors
from shopsim.study.extending import extend_study
from shopsim.study.fingerprint import hash_scenario
from shopsim.study.intervals import (
    Interval,
    blocked_interval,
    common_rank,
    least_n_for_bound,
    lower_quantile,
    mean_interval,
    most_share,
    paired_difference,
    quantile,
    quantile_interval,
    quantile_interval_ranks,
    quantile_rank,
    replications_for_chance,
    share_interval,
)
from shopsim.study.measures import MEASURES
from shopsim.study.opening import open_study
from shopsim.study.process_pool import open_workers
from shopsim.study.results import Study
from shopsim.study.runner import run_study
from shopsim.study.searching import Search, search_best

__all__ = [
    "MEASURES",
    "Choice",
    "Interval",
    "Search",
    "Study",
    "blocked_interval",
    "choose_best",
    "common_rank",
    "extend_study",
    "find_survivors",
    "hash_scenario",
    "least_n_for_bound",
    "lower_quantile",
    "mean_interval",
    "most_share",
    "open_study",
    "open_workers",
    "paired_difference",
    "quantile",
    "quantile_interval",
    "quantile_interval_ranks",
    "quantile_rank",
    "replications_for_chance",
    "run_study",
    "search_best",
    "share_interval",
]
