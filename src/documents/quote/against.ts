/** What a quote may add its order to. */
export const AGAINST = ['night', 'rack', 'nothing'] as const;
export type QuoteAgainst = (typeof AGAINST)[number];
