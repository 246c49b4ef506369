/** Money where offers have prices; where they have none the page says how much stick, never a sum that looks like money. */
import { describe, expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { showPlan } from '../../src/show/plan.js';
import { planned } from '../plan/kit.js';

const PRICED = { id: 'ash-8', moulding: 'ash', length: '2400 mm', price: 12.5 } as const;
const BARE = { id: 'ash-10', moulding: 'ash', length: '3000 mm' } as const;

function document(offers: BatchDocument['offers']): BatchDocument {
  return {
    schema: 'pairstop/batch@1',
    id: 'money',
    units: 'mm',
    mouldings: [{ id: 'ash', face: 30, rabbet: 6 }],
    frames: [{ id: 'A', moulding: 'ash', quantity: 3, width: 300, height: 400 }],
    ...(offers && { offers }),
    options: { timeLimit: 2 },
  };
}

async function page(offers: BatchDocument['offers']): Promise<string> {
  const batch = document(offers);
  return showPlan(checkBatch(batch), await planned(batch)).replaceAll(/\s+/g, ' ');
}

describe('the page of a plan', () => {
  it('tells money where there are prices', async () => {
    const text = await page([PRICED]);
    expect(text).toContain('cost 37.50, proven: no plan costs less');
    expect(text).not.toContain('PS_MIXED');
  });

  it('tells metres where there are none', async () => {
    const text = await page([BARE]);
    expect(text).toMatch(/\d x 3000 mm ash ash-10 6\.00 m/);
    expect(text).toContain('6.00 m of stick to buy, proven: no plan buys less');
    expect(text).toContain('6.00 m of stick to buy. ');
    expect(text).not.toMatch(/cost/);
  });

  it('says that length is weighed against money where some have a price and some have none', async () => {
    const batch = document([PRICED, BARE]);
    const plan = await planned(batch);
    const told = plan.notices.find(({ code }) => code === 'PS_MIXED_PRICES');
    expect(told?.path).toBe('offers[1].price');
    expect(told?.message).toContain('ash-10 without a price');
    expect(showPlan(checkBatch(batch), plan).replaceAll(/\s+/g, ' ')).toContain('give every offer a price');
  });
});
