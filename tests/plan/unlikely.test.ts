/** What is possible and yet a likely slip is planned as given, with a notice. */
import { describe, expect, it } from 'vitest';
import { planned } from './kit.js';

/** Paths of the notices of likely slips. */
async function noted(change: object, frame: object = {}): Promise<readonly string[]> {
  const plan = await planned({
    schema: 'pairstop/batch@1',
    id: 'unlikely',
    units: 'mm',
    mouldings: [{ id: 'ash', face: 30, rabbet: 6, endTrim: 10 }],
    frames: [{ id: 'A', moulding: 'ash', width: 400, height: 500, ...frame }],
    sticks: [{ id: 'r', moulding: 'ash', length: 600 }],
    offers: [{ id: 'o', moulding: 'ash', length: 2400 }],
    ...change,
  });
  return plan.notices
    .filter(({ code }) => code === 'PS_UNLIKELY')
    .map(({ path, message }) => `${path} ${message}`);
}

describe('likely slips', () => {
  it('an ordinary order has none', async () => {
    expect(await noted({})).toEqual([]);
  });

  it('a kerf no blade has', async () => {
    expect(await noted({ saw: { kerf: '1/64 in' } })).toEqual([
      expect.stringMatching(/^saw\.kerf a kerf of 0\.4 mm/),
    ]);
    expect(await noted({ saw: { kerf: 12 } })).toEqual([
      expect.stringContaining('blades take 1 mm to 6.5 mm'),
    ]);
  });

  it('sizes in inches under "units": "mm"', async () => {
    const inches = {
      mouldings: [{ id: 'ash', face: 1.25, rabbet: 0.25 }],
      frames: [
        { id: 'A', moulding: 'ash', width: 16, height: 20 },
        { id: 'B', moulding: 'ash', width: 11, height: 14 },
      ],
    };
    expect(await noted(inches)).toEqual([
      expect.stringMatching(/^mouldings\[0\]\.face ash: a face of 1\.3 mm is unusual/),
      expect.stringMatching(
        /^frames\[0\] ash: frame A of 16 mm x 20 mm, and 1 more lines: .*were inches meant/,
      ),
    ]);
  });

  it('end trims that take a third of every stick', async () => {
    expect(
      await noted({ mouldings: [{ id: 'ash', face: 30, rabbet: 6, endTrim: 400 }], sticks: [] }),
    ).toEqual([
      expect.stringMatching(
        /^mouldings\[0\]\.endTrim ash: end trims of 400 mm at both ends take 33 % of even/,
      ),
    ]);
  });

  it('a rack piece that its trims make useless', async () => {
    expect(await noted({ sticks: [{ id: 'r', moulding: 'ash', length: 465 }] })).toEqual([
      expect.stringMatching(
        /^sticks\[0\] ash: rack piece r of 465 mm holds no rail .* once its ends are trimmed/,
      ),
    ]);
  });
});
