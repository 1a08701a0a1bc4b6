"""What it means: one module for each question of the maker, table and sentence out."""

from shopsim.answers.answer import Answer
from shopsim.answers.batch_size import compare_batch_sizes
from shopsim.answers.batches_by import compare_batches_by
from shopsim.answers.buying import find_buying
from shopsim.answers.caution_lists import list_cautions, offer_cautions
from shopsim.answers.day_plan import plan_days
from shopsim.answers.decide import decide
from shopsim.answers.delivery import forecast_delivery
from shopsim.answers.from_now import forecast_from_now
from shopsim.answers.holdups import find_holdups
from shopsim.answers.more_clamps import compare_clamps
from shopsim.answers.plan_of_days import find_days
from shopsim.answers.reach import find_reach
from shopsim.answers.ways_compared import compare_ways
from shopsim.answers.words import write_words
from shopsim.answers.worth import find_worth

__all__ = [
    "Answer",
    "compare_batch_sizes",
    "compare_batches_by",
    "compare_clamps",
    "compare_ways",
    "decide",
    "find_buying",
    "find_days",
    "find_holdups",
    "find_reach",
    "find_worth",
    "forecast_delivery",
    "forecast_from_now",
    "list_cautions",
    "offer_cautions",
    "plan_days",
    "write_words",
]
