"""A question and a day being made, as flat arrays of whole numbers for the compiled loops.

Columns have names here and nowhere else. Minutes that are taken are bits, 32 to a word: a word is a whole number of 64
bits that never goes below 0.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.int64]

NONE = -1
"""No kettle, no table, no place, any canner."""

WORD_BITS = 32

# Columns of ``Facts.batches``. An area is in millionths of a square inch; PREP_ROW is where the batch's own
# entries of ``Facts.prep`` begin, FIRST and END are its options.
(
    JARS, ARRIVAL, PICKUP, COOK, MEAT, SIZE, JAR_AREA, PREP_ROW, FIRST, END,
) = range(10)  # fmt: skip
BATCH_COLUMNS = 10

# Columns of ``Facts.options``. KIND numbers what options have in common for sharing, FAMILY what loads have in common
# for changeovers.
# BURNER is the row of its canner's burner in ``Floor.taken``.
BATCH, CANNER, MOST, FILL, MINUTES, HEAT_ON, WATCH, KIND, FAMILY, BURNER = range(10)
OPTION_COLUMNS = 10

# Places in ``Facts.rules``.
(
    HORIZON, UNLOADING, CLEANING, STAND, PREP_HANDS, FILL_HANDS, PER_PERSON, MEAT_OUT_BY, CANNERS, KETTLE_ROW, KETTLES,
    WATCHER_ROW, WATCHERS,
) = range(13)  # fmt: skip
RULES = 13

# Rows of ``Floor.taken`` and of ``Floor.spare``: hands at each station, then hands to clean with. Below the rows of
# hands come canners, burners, a burner that is nobody's, kettles, and three rows a watcher: away, full, busy.
AT_PREP, AT_KETTLE, AT_FILL, AT_CANNER, AT_COOLING, AT_CLEANING = range(6)
HANDS_ROWS = 6
# Rows of ``Floor.spare`` after those of the five stations: everybody, the adults; then how many canners each watches.
EVERYBODY, ADULTS = 5, 6
SPARE_ROWS = 7

# Columns of ``Floor.loads``. OTHER_SIZE and OTHERS are the second size of jar in it and how many.
OPTION, START, WATCHER, TABLE, LOADED, OTHER_SIZE, OTHERS, LAST_PIECE = range(8)
LOAD_COLUMNS = 8

# Columns of ``Floor.pieces``. BEFORE is the piece of the same load that came before, TURN the gene that placed it.
(
    OF_LOAD, OF_BATCH, OF_OPTION, PIECE_JARS, PREP_FROM, PREP_TO, KETTLE, BEFORE, TURN,
) = range(9)  # fmt: skip
PIECE_COLUMNS = 9

# Columns of ``Floor.uses``: what stands on a cooling table, from when to when, how much.
USE_FROM, USE_TO, USE_AREA = range(3)
USE_COLUMNS = 3

# Places in ``Floor.counts``.
LOADS, PIECES, EFFORT = range(3)
COUNTS = 3

# Levels of ``Floor.score``.
LEVELS = 6

# Rows of ``Floor.of_batch``. TRIED says that a last try for jars without a turn was made.
LEFT, LATE, LAST_OUT, TRIED = range(4)
BATCH_ROWS = 4


class Facts(NamedTuple):
    """What does not depend on the order.

    ``kettles`` has for each batch the jars that each kettle cooks at once, ``pots`` the row of each kettle's burner.
    ``may_share`` says for two kinds of option whether the second's jars may ride in the first's load; ``mixed`` gives
    for a kind and a second size the page of ``mixes``, which says for so many jars of each whether they fit.
    """

    batches: Numbers
    options: Numbers
    prep: Numbers
    kettles: Numbers
    pots: Numbers
    rooms: Numbers
    rules: Numbers
    may_share: NDArray[np.bool_]
    mixed: Numbers
    mixes: NDArray[np.bool_]


class Floor(NamedTuple):
    """A day while it is made: what is taken, what is spare, and the loads placed so far."""

    taken: Numbers
    spare: Numbers
    uses: Numbers
    use_counts: Numbers
    loads: Numbers
    pieces: Numbers
    on_canner: Numbers
    canner_counts: Numbers
    of_batch: Numbers
    counts: Numbers
    score: Numbers
