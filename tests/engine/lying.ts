/** A library that is wrong, for tests that nothing it says is claimed as proven. */
import type { Highs, Model } from 'highs';
import type { Random } from '../../bench/tools/random.js';

/** HiGHS, with values up to three times as high as they are, and duals all too small or some too large. */
export function lying(highs: Highs, random: Random): Highs {
  const off = (): number => 0.5 + random.int(0, 1000) / 1000;
  const wrapped = (model: Model): Model =>
    new Proxy(model, {
      get(target, name) {
        if (name === 'getObjectiveValue') return () => 2 * off() * target.getObjectiveValue();
        if (name === 'getSolution') {
          return () => {
            const solution = target.getSolution();
            if (random.chance(0.1)) {
              const none = random.pick([Number.NaN, Infinity, 1e300]);
              return { ...solution, rowDual: solution.rowDual.map(() => none) };
            }
            const small = random.chance(0.5);
            return { ...solution, rowDual: solution.rowDual.map((dual) => dual * (small ? 0.4 : off())) };
          };
        }
        if (name === 'getBasisInverseRow') {
          return (row: number) => ({
            values: target.getBasisInverseRow(row).values.map((one) => one * off()),
          });
        }
        const value: unknown = Reflect.get(target, name, target);
        return typeof value === 'function' ? value.bind(target) : value;
      },
    });
  return new Proxy(highs, {
    get(target, name) {
      if (name === 'createModel') return () => wrapped(target.createModel());
      return Reflect.get(target, name, target);
    },
  });
}
