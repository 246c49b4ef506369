/** What the bench card is given, as JSON within the page. Rails, sticks and mouldings are named by their place in these lists. */
import type { MethodStep } from '../../words/method.js';

export interface CardMoulding {
  readonly id: string;
  readonly mark: string;
  readonly runs: number;
  readonly method: readonly MethodStep[];
}

export interface CardStick {
  readonly name: string;
  /** `new 10'`, `rack 61 1/4"`. */
  readonly about: string;
  /** Each clear part's rails from the left, as they are cut. */
  readonly parts: readonly (readonly number[])[];
}

export interface CardVisit {
  readonly stick: number;
  readonly rails: readonly number[];
  readonly seconds: number;
  /** Said before the first rail of a stick: where to cut its first mitres. */
  readonly begin: string;
}

export interface CardSetting {
  readonly moulding: number;
  readonly run: number;
  /** One figure, or two stops. */
  readonly figures: readonly string[];
  /** Empty where the moulding has only one angle. */
  readonly angle: string;
  readonly gauge: string | null;
  readonly setBy: string | null;
  readonly finish: boolean;
  readonly clamp: boolean;
  readonly seconds: number;
  readonly visits: readonly CardVisit[];
}

/** Tag and length, and from where to where it lies on its stick, as a flaw in its place is told. */
export type CardRail = readonly [tag: string, length: string, from: string, to: string];

export interface CardData {
  /** Under which the browser keeps what was ticked: of this very plan. */
  readonly key: string;
  readonly batch: string;
  readonly recut: boolean;
  readonly cautions: readonly string[];
  readonly mouldings: readonly CardMoulding[];
  readonly sticks: readonly CardStick[];
  readonly rails: readonly CardRail[];
  readonly settings: readonly CardSetting[];
  /** Names of the files for the line to type. */
  readonly files: { readonly batch: string; readonly plan: string };
  /** Where the service takes what was lost, as a path of its own; null: this is a file. */
  readonly service: string | null;
}
