/** What a plan can be found wrong in. Codes are stable: other software may switch on them. */
export const rules = {
  CHECK_DOCUMENT: 'schema, batch id and units are those of the batch',
  CHECK_NUMBER:
    'lengths are finite, not negative, in mm with 3 decimals; money is in whole cents; counts are whole',
  CHECK_MOULDING: 'every moulding with orders has one entry, and no other has rails',
  CHECK_STATUS: 'a moulding, and the plan, is short exactly when frames of it are in the shortfall',
  CHECK_RAIL_ID: 'a rail is a side of a frame copy that is ordered in this moulding',
  CHECK_RAIL_TWICE: 'no rail is cut twice',
  CHECK_RAIL_MISSING: 'every rail of every frame that is not in the shortfall is cut',
  CHECK_SHORTFALL: 'the shortfall names whole frames, once each, and none of their rails is cut',
  CHECK_TAG: 'a tag is the one that finds its frame, on every rail or on none',
  CHECK_LENGTH:
    'a rail is as long as its frame needs, rounded up to the stop step, or merged within its play',
  CHECK_OPPOSING: 'opposing rails are equal',
  CHECK_ANGLE:
    'a rail is cut at 180° by the number of sides of its frame, and a stop names the angle all its rails share',
  CHECK_FLIPPED: 'only rails of reversible moulding are flipped',
  CHECK_TRIM: 'rails lie between the end trims of their stick',
  CHECK_FLAW: 'no rail reaches into a flaw',
  CHECK_WOOD: 'no wood belongs to two rails',
  CHECK_KERF: 'the blade passes between neighbours without touching either',
  CHECK_RECUT: 'neighbours that do not nest leave the recut beside the blade',
  CHECK_NEST: 'rails of unlike angles do not nest',
  CHECK_ORDER: 'along each segment of a stick the rails stand in the order of the stops',
  CHECK_MATCH:
    'pair: opposing rails are neighbours; frame: all rails are neighbours, in the order of the ring',
  CHECK_STICK: 'a stick is a rack piece or an offer of its moulding, named ref/copy',
  CHECK_STICK_TWICE: 'a piece is used once',
  CHECK_STICK_LENGTH: 'a stick is as long as the batch says',
  CHECK_STICK_IDLE: 'a stick that is listed has rails',
  CHECK_SUPPLY: 'no more pieces are used than there are, or are bought',
  CHECK_STOP_ORDER:
    'in a run no setting comes twice, and they go from longest to shortest unless the batch asks for fewest begun',
  CHECK_STOP_IDLE: 'a stop setting has rails',
  CHECK_STOP_RAIL: 'every rail that is cut is in the pairs of a stop, and every rail there is cut',
  CHECK_STOP_TWICE: 'a rail is in the pairs of one stop only, once',
  CHECK_STOP_SETTING: 'a rail is exactly as long as the setting it is cut at',
  CHECK_SECOND:
    'only frame-matched rails have a second stop, shorter than the first, and use both in one run',
  CHECK_ONE_SETTING:
    'the rails of a pair, of a regular frame and of a matched frame come from one setting in one run',
  CHECK_RUN: 'runs are cut one after the other, each stick whole in one of them, the one it names',
  CHECK_BENCH:
    'no more sticks lie begun at once than the bench holds, unless pairs and rings tie them all together',
  CHECK_RUN_FIGURES: 'sticks, settings, sticks begun, stops set and time are those of this plan',
  CHECK_GAUGE: 'a setting that equals a gauge stick names it, and no other does',
  CHECK_PAIR: 'a pair is two opposing rails of a rectangle, or sides of one regular frame',
  CHECK_LEFT:
    'remainders lie within the stick, apart from each other, clear of wood and blade; offcuts of trims and flaws too',
  CHECK_LEFT_USE: 'a remainder is an offcut exactly when it is long enough to keep',
  CHECK_LEFT_PIECE:
    'an offcut is entered as long as it lies there along the outside edge, with its ends as they are',
  CHECK_LEFT_MISSING: 'every free span long enough to keep is listed whole as an offcut',
  CHECK_BUY: 'each offer that is used is bought, in one entry, for its own moulding',
  CHECK_PACK: 'offers are bought in whole packs',
  CHECK_AVAILABLE: 'no more is bought than is for sale',
  CHECK_COST: 'a purchase costs its count at the price for that count, and no larger count is cheaper',
  CHECK_PROOF:
    'the proof is of the cost or rack length of this plan; its bound is no higher, and equal exactly when optimal',
  CHECK_MERGING:
    'with merged stops, the figures of both ways are those of this plan and of every rail at its own setting',
  CHECK_PRIORITY: 'no frame is left out for an equal one that comes later by priority',
  CHECK_HANDLING: 'visits, layouts, split pairs and offcuts are those of this plan',
  CHECK_POOL:
    'batches planned as one are those of the batch, each with its own order lines, frames and rails',
  CHECK_SHARE:
    'shares add up to the cost, by rail length and at most the cost alone, unless there are no such shares',
  CHECK_SAVED: 'what pooling saved is the cost alone less the cost here',
  CHECK_TOTALS: 'the totals are the sums of the plan',
} as const;

/** What else a recut can be found wrong in. */
export const recutRules = {
  CHECK_CUT: 'along each segment of a stick, what is cut lies to the left of what is still to be cut',
  CHECK_LOST: 'lost rails are those a stick says are lost, and each is cut again or in the shortfall',
  CHECK_REPLACES: 'a rail to be cut replaces a lost one exactly where it was lost',
  CHECK_MOVED: 'a rail to be cut was on a stick of its moulding, and the moved are counted',
  CHECK_FINISH: 'what was begun is finished before all else, and is of no run',
  CHECK_SET_BY: 'a stop is set against a good rail of its length, of a frame it replaces a rail of',
  CHECK_FOUND: 'flaws found lie within their stick, from the left, apart from each other',
  CHECK_REUSED: 'a piece made of a spoiled rail is shorter than that rail, which is lost',
  CHECK_BOUGHT: 'what was bought before is of the batch, once an offer',
  CHECK_EARLIER: 'what was cut, lost, bought and planned before is as the earlier document says',
} as const;

/** What a comparison can be found wrong in, besides. */
export const comparisonRules = {
  CHECK_SCENARIO: 'a scenario buys only what it may, at its price, and its value is what that costs',
  CHECK_SKIPPED: 'lines are skipped only where the batch asks for it, and no clear stick surely holds one',
  CHECK_MAKES: 'what a scenario buys, with the rack, makes the order',
  CHECK_FIGURES: 'the figures of a scenario add up',
  CHECK_BOUND: 'no bound is above a value that is reached with the same offers or fewer',
  CHECK_RECOMMENDED:
    'the recommendation is the cheapest of the scenarios, and what it saves is the difference',
  CHECK_PRICES: 'between its prices the recommended purchase costs no more than the others of the document',
} as const;

export const allRules = { ...rules, ...recutRules, ...comparisonRules } as const;

export type CheckCode = keyof typeof allRules;
