/** Fields that the documents made here share. Each is bounded, so a reader knows what it can hold. */
import * as z from 'zod';
import { type NoticeCode, notices } from '../notices.js';
import { choiceField, countField, numberField, textField } from '../read/fields.js';
import { ID_LENGTH, LINES, RAILS } from '../read/limits.js';
import { list } from '../read/walk.js';

/** `frame id/copy/side`: the longest id, seven digits and `bottom` or `side24`. */
const LABEL_LENGTH = ID_LENGTH + 16;
export const MESSAGE_LENGTH = 4_000;
/** One stick is at most 100 m; a rail may be longer by what its frame adds to the longest size. */
const MM = 1_000_000;
/** Sums over a million rails. */
export const TOTAL = 1e12;

export const id = textField(ID_LENGTH, 'an id of the batch');
export const label = textField(LABEL_LENGTH, 'an id with its copy number');
export const mm = numberField(0, MM, 'a length in mm');
export const totalMm = numberField(0, TOTAL, 'a total in mm');
export const money = numberField(0, TOTAL, 'money');
export const whole = countField(0, Number.MAX_SAFE_INTEGER, 'a count');
export const units = choiceField(['in', 'mm'], 'the units of the batch; every length here is in mm');
export const made = choiceField(['complete', 'short'], 'whether every frame is made');

const codes = Object.keys(notices) as [NoticeCode, ...NoticeCode[]];

export const noticeList = list(
  z
    .strictObject({
      code: choiceField(codes, 'the code of the notice'),
      message: textField(MESSAGE_LENGTH, 'the notice'),
      path: z.string().max(MESSAGE_LENGTH).describe('where in the batch; empty for all of it'),
    })
    .describe('a notice: an object'),
  0,
  RAILS,
  'notices',
);

export const purchases = list(
  z.strictObject({ moulding: id, offer: id, count: whole, cost: money }).describe('a purchase: an object'),
  0,
  LINES,
  'purchases',
);
