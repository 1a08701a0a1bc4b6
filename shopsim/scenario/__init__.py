"""What the user says: scenario files read, checked whole, changed and written."""

from shopsim.scenario.cautions import CAUTIONS, NONE_NEEDED
from shopsim.scenario.files import (
    Reading,
    change_scenario,
    load_scenario,
    parse_scenario,
    read_scenario,
    read_scenario_text,
)
from shopsim.scenario.model import (
    PRIORITY_RULES,
    AddedOperation,
    ChangedOperation,
    ClampKind,
    ClampNeed,
    Design,
    Line,
    Luck,
    Material,
    Operation,
    Option,
    ProductionRun,
    Rack,
    Redo,
    Scenario,
    Shipping,
    Shop,
    Station,
    Worker,
)
from shopsim.scenario.orders_file import read_orders
from shopsim.scenario.plain import dump_scenario
from shopsim.scenario.schema import scenario_schema
from shopsim.scenario.values import Order, OrderBook
from shopsim.scenario.writing import edit_file, save_scenario, write_bytes_safely, write_text_safely

__all__ = [
    "CAUTIONS",
    "NONE_NEEDED",
    "PRIORITY_RULES",
    "AddedOperation",
    "ChangedOperation",
    "ClampKind",
    "ClampNeed",
    "Design",
    "Line",
    "Luck",
    "Material",
    "Operation",
    "Option",
    "Order",
    "OrderBook",
    "ProductionRun",
    "Rack",
    "Reading",
    "Redo",
    "Scenario",
    "Shipping",
    "Shop",
    "Station",
    "Worker",
    "change_scenario",
    "dump_scenario",
    "edit_file",
    "load_scenario",
    "parse_scenario",
    "read_orders",
    "read_scenario",
    "read_scenario_text",
    "save_scenario",
    "scenario_schema",
    "write_bytes_safely",
    "write_text_safely",
]
