"""The limits that a user can meet: how much of anything a file, a command or a page of the app may ask for.

Beyond them a question would not end in reasonable time, or would fill the computer it runs on. A message that names a limit
takes it from here. Limits of our own making (rows of a table before it is cut, bars of a chart) stand where they are used.
"""

from __future__ import annotations

# Files that are read.
#: A file of the user's own: bytes, and letters of its name.
MAX_FILE_BYTES = 1_000_000
MAX_FILE_NAME_LETTERS = 250
#: A study in a file: bytes, bytes of all that is packed in it, and alternatives.
MAX_STUDY_BYTES = 500_000_000
MAX_UNPACKED_STUDY_BYTES = 2_000_000_000
MAX_ALTERNATIVES = 1_000

# What a scenario may hold.
#: Pieces of a run, and so of one order; orders, as each is at least one piece.
MAX_PIECES = 10_000
MAX_ORDERS = 10_000
MAX_OPERATIONS = 1_000
#: Lines of a plan of one's own.
MAX_PLAN_LINES = 20_000
MAX_TASKS = 500_000
MAX_WORKERS = 60
#: Units of a station, spots of a rack and the like are looked through one by one.
MAX_STATIONS = 1_000
#: Times that one run draws by luck, about 250 bytes each.
MAX_DRAWN_TIMES = 1_500_000
#: Tasks times kinds of clamps: a record has a place for each.
MAX_CLAMP_PLACES = 20_000_000
#: The longest run that is taken on, in years, and in days with the leap days; a plan for longer is a slip of the pen.
MAX_RUN_YEARS = 20
MAX_RUN_DAYS = MAX_RUN_YEARS * 365 + 5
#: The longest time that a file may state, in days (ten years), and the longest length, in mm (100 m).
MAX_TIME_DAYS = 10 * 366
MAX_LENGTH_MM = 100_000.0
#: The largest amount of money that a file may state, and lengths in which one material is sold.
MAX_AMOUNT = 1_000_000_000
MAX_LENGTHS = 20
#: The most of anything that may be counted in words like "9 / 18 / 36".
MAX_COUNTED = 10_000
#: Choices of several options at once that a file of orders may name.
MAX_CHOICES = 200
#: Cautions that one step may carry, and the letters of one in the user's own words.
MAX_CAUTIONS, MAX_CAUTION_LETTERS = 20, 300

# Logs.
#: Rows of a log, units that one row may stand for, and log files that may name each other in a row.
MAX_LOG_ROWS = 50_000
MAX_LOGGED_UNITS = 10_000
MAX_LOG_FILES = 20
#: The longest hands-on time of one unit that is believed, in days: a week without a break. Own judgement.
MAX_UNIT_DAYS = 7
#: Values of a time that is drawn as logged.
MAX_LOGGED_VALUES = 100_000
#: Runs and operations with logged times: all are weighed against each other.
MAX_LEARNED = 500

# What may be asked for.
#: Replications: of a study, of a command, of an answer in the app, and of a search that says nothing of its own.
MAX_REPLICATIONS = 1_000_000
MAX_COMMAND_REPLICATIONS = 100_000
MAX_PAGE_REPLICATIONS = 5_000
MAX_SEARCH_REPLICATIONS = 2_000
#: The largest seed, and the largest that can be typed in the app.
MAX_SEED = 2**63 - 1
MAX_TYPED_SEED = 1_000_000_000
MAX_JOBS = 64
#: Numbers of orders that one answer compares: of a command, and on a page.
MAX_ORDER_COUNTS = 200
MAX_TYPED_COUNTS = 60
#: Batch sizes that a page compares at once.
MAX_TYPED_SIZES = 8
#: Most clamps of a kind that a what-if adds, and orders that it asks about.
MAX_ADDED_CLAMPS, MAX_ASKED_ORDERS = 1_000, 2_000

# What the app takes on.
#: The largest upload, in megabytes: the server refuses more before anything reads it.
MAX_UPLOAD_MB = 5
#: Files beside a scenario (orders, tables of their own), how many and how many bytes together.
MAX_FILES_BESIDE = 10
MAX_BESIDE_BYTES = 3_000_000
#: Letters of a field of one line or of notes.
MAX_FIELD_LETTERS = 5_000
#: Rows of one table that can be edited on a page; a longer one is changed in the file itself.
MAX_EDITED_ROWS = 300
#: Drafts kept on the disk: how many, how many bytes together, and for how many days after the last change.
MAX_DRAFTS = 100
MAX_DRAFTS_BYTES = 200_000_000
MAX_DRAFT_DAYS = 90
#: Drafts held in memory at once; the others are read from the disk when they are asked for.
MAX_DRAFTS_IN_MEMORY = 50
#: Characters that the remembered values of one draft's controls may take.
MAX_VALUES_LETTERS = 2_000_000
