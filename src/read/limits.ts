/** Every bound on what is read, with its reason. Lengths are micrometres, money cents. */

/** A batch of 100,000 lines with a note each stays below this; packed for the queue it is a few megabytes. */
export const BATCH_BYTES = 90 * 2 ** 20;
/** A plan of 1,000,000 rails takes about 200 bytes a rail; a JavaScript string ends at 512 MiB. */
export const PLAN_BYTES = 400 * 2 ** 20;

/** The deepest batch or plan is 7 deep; nobody nests deeper than this on purpose. */
export const DEPTH = 32;
/** The widest object of either document has 14 keys. Bounds the sets that find duplicate keys. */
export const KEYS_PER_OBJECT = 64;
/** Longest key of either document: 12 characters. */
export const KEY_LENGTH = 128;
/** Values in a document (array items and object members). Parsed JSON takes up to some 100 bytes each. */
export const BATCH_VALUES = 4_000_000;
/** 1,000,000 rails, each with 7 values and a mention in its pair, and the sticks and stops. */
export const PLAN_VALUES = 30_000_000;

/** Problems listed in a refusal; the rest are only counted. */
export const PROBLEMS_LISTED = 200;
/** Counting stops here too: nobody repairs a file this wrong line by line. */
export const PROBLEMS_COUNTED = 10_000;
/** Longest piece of a given value repeated in a message, in characters. */
export const SHOWN_LENGTH = 60;

/** Lines of one list: frames, mouldings, rack, offers, gauges. */
export const LINES = 100_000;
/** Rails of all frames together: a million settings, placements and labels fit in 1 GiB. */
export const RAILS = 1_000_000;
/** Rack pieces together; more than there can be rails is never used. */
export const RACK_PIECES = 1_000_000;
/** Flaws of one stick: 1,000 on a 12 ft stick are one every 3.7 mm. */
export const FLAWS = 1_000;
/** Steps of one price list. */
export const BREAKS = 100;
/** Sticks for sale, or in a pack. */
export const AVAILABLE = 1_000_000_000;
export const PACK = 1_000_000;
/** Lowest rank of a frame line: each line may have its own. */
export const PRIORITY = LINES;
export const ID_LENGTH = 128;
/** Four letters for 100,000 mouldings, seven digits, a side of two digits. */
export const TAG_LENGTH = 16;
/** A sentence or two. */
export const NOTE_LENGTH = 1_000;

/** Longest length, 100 m. A million of them are 10^14 µm, well inside the 2^53 a double counts exactly. */
export const LONGEST = 100_000_000;
/** Everything is rounded to this scale: anything shorter counts as nothing. */
export const SHORTEST = 1;
/** Widest face: 1 m, three times the broadest moulding sold. */
export const WIDEST = 1_000_000;
/** Kerf: no blade that cuts mitres is an inch thick. */
export const KERF_MOST = 25_400;
/** Recut and stop step: 100 mm. */
export const SAW_MOST = 100_000;

/** Sticks on a bench: more than a shop cuts in a month. */
export const BENCH = 10_000;
/** Milliseconds of one step at the saw: an hour. Times a million rails they still add up exactly. */
export const HANDLING_MOST = 3_600_000;

/** Dearest piece, 10,000,000.00: two million of them are 2·10^15 cents, still counted exactly. */
export const MONEY = 10_000_000;

/** A regular frame has 3 sides at least; beyond 24 a mitre is under 7.5°, which no fence is set to by its scale. */
export const SIDES_FEWEST = 3;
export const SIDES_MOST = 24;

/** The largest multiple of an order that is compared, and how many multiples. */
export const GROW = 1_000;
export const GROWN = 10;

/** Seconds of solving: twelve hours, one night. */
export const TIME_LIMIT = 43_200;

/** Moments a batch may wait for. The queue keeps them times 4096 in a double, so they end well before 2039. */
export const INSTANT_FIRST = '2000-01-01T00:00:00Z';
export const INSTANT_LAST = '2037-12-31T23:59:59Z';
export const INSTANT_LENGTH = 40;
