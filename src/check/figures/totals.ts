/** The sums at the end of a plan. */
import { moneyText } from '../../documents/money.js';
import type { Cents } from '../../terms.js';
import type { Context, Sums } from '../context.js';
import { centsOf, mm, umOf } from '../numbers.js';

/** Half of the fourth decimal of a yield. */
const YIELD_ROUNDING = 0.000_05 + 1e-12;

export function checkTotals(on: Context, sums: Sums, cost: Cents): void {
  const { plan, findings } = on;
  const { totals } = plan;
  const add = (
    name: Exclude<keyof typeof totals, 'handling' | 'unmerged' | 'stopsSet' | 'seconds' | 'labour'>,
    holds: string,
  ) => findings.add('CHECK_TOTALS', `totals.${name}`, String(totals[name]), holds);
  if (totals.sticks !== sums.sticks) add('sticks', String(sums.sticks));
  if (totals.stopSettings !== sums.stopSettings) add('stopSettings', String(sums.stopSettings));
  if (totals.cuts !== sums.cuts) add('cuts', String(sums.cuts));
  if (centsOf(totals.cost) !== cost) add('cost', moneyText(cost));
  const [stock, rail] = [umOf(totals.stockLength), umOf(totals.railLength)];
  const [offcut, waste] = [umOf(totals.offcutLength), umOf(totals.wasteLength)];
  if (stock !== sums.stock) add('stockLength', mm(sums.stock));
  if (!(rail >= sums.railLeast && rail <= sums.railMost)) {
    const most = sums.railMost === sums.railLeast ? '' : ` to ${mm(sums.railMost)}`;
    add('railLength', `${mm(sums.railLeast)}${most}`);
  }
  if (offcut !== sums.offcut) add('offcutLength', mm(sums.offcut));
  if (!(waste >= 0) || rail + offcut + waste !== stock) {
    add('wasteLength', `stockLength − railLength − offcutLength, ${mm(stock - rail - offcut)}`);
  }
  const share = sums.stock === 0 ? 0 : rail / sums.stock;
  if (!(Math.abs(totals.yield - share) <= YIELD_ROUNDING))
    add('yield', `railLength / stockLength, ${share.toFixed(4)}`);
}
