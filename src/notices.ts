/**
 * The one catalogue of notices: what a document tells the shop beside its figures. Codes are stable: other software may
 * switch on them. No code decides by a notice: a fact that matters also stands in a field.
 */
export const notices = {
  PS_SHORT_RAILS: 'rails too short to be held by hand beside the blade',
  PS_MIXED_ANGLES: 'reversible stock holds frames of unlike mitre angle, which do not nest',
  PS_NO_OPPOSING: 'a ring with an odd number of sides has no opposing rails to match',
  PS_MIXED_PRICES:
    'some offers of a moulding have a price and others have none, so that its figures are not money',
  PS_SPARE_PIECES: 'a pack or a price break leaves bought pieces uncut',
  PS_BENCH_FULL: 'pairs or rings tie more sticks together in one run than the bench holds',
  PS_STOPS_NOT_MERGED: 'merging near-equal stop settings was asked for, but every rail kept its own setting',
  PS_MERGED_CHOICE: 'the proof of a merged plan holds only for the stop settings that were chosen',
  PS_SIZE_KEPT: 'playMax is given, but not used: the size of the frame is not measured by the glass',
  PS_APART: 'batches of a pool are planned apart where they differ in what a plan has only once',
  PS_LATE: 'frames of a batch that says when it is needed are not made: stock is short',
  PS_NOT_PLANNED: 'a moulding could not be planned, and none of its frames is made',
  PS_UNLIKELY: 'a value is possible, and so far from common practice that a slip is likelier',
  PS_SKIPPED: 'a frame that nothing can hold was skipped, as the batch asks',
  PS_SEARCH_ENDED:
    'the search ended before it was known whether more frames can be made, or more lost rails replaced',
  PS_MATCH_BROKEN: 'part of a matched pair or ring is cut: its replacement cannot be its neighbour',
  PS_ALONG_WITH: 'rails not yet cut are cut again elsewhere beside the lost rail they are matched with',
  PS_PLAN_SHORT: 'the plan was short from the start: those frames are not made',
  PS_STOP_COARSE: 'one mark of the stop is more than the rails of a pair may differ by',
  PS_NOT_MEASURED: 'frames of the batch have a mitre for which no angle was measured',
} as const;

export type NoticeCode = keyof typeof notices;

export interface Notice {
  readonly code: NoticeCode;
  readonly message: string;
  /** Where in the batch, as in `frames[3].match`; empty for all of it. */
  readonly path: string;
}

export function notice(code: NoticeCode, path: string, message: string): Notice {
  return { code, message, path };
}
