/**
 * A solver process for the tests: the real one, but that a moulding's id may ask for trouble.
 *
 *     wait-<ms>     the plan is sent as a checkpoint, then a synchronous wait, then the answer
 *     hang          the plan is sent as a checkpoint, then it never returns
 *     mute          it never returns, sends nothing and takes all the processor it gets
 *     slow-<ms>     it takes so long before it has read the batch
 *     exit          the process ends
 *     exit-once     it sends a checkpoint and ends; resumed from a checkpoint it answers
 *     memory        it allocates until something stops it
 *     off-heap      the same outside the JavaScript heap
 */
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { performer } from '../../src/processes/solver/perform.js';
import { type Perform, serve } from '../../src/processes/solver/serve.js';
import { createEngine } from '../../src/solve/engine.js';

/** Like a library that does not return, but that it leaves the processor to others. */
function stand(ms: number): void {
  Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, ms);
}

function spin(): never {
  for (;;);
}

function eat(): never {
  const kept: number[][] = [];
  for (;;) kept.push(new Array<number>(1_000_000).fill(kept.length + 0.5));
}

function eatOffHeap(): never {
  const kept: Buffer[] = [];
  for (;;) {
    kept.push(Buffer.alloc(8 * 2 ** 20, 1));
    stand(5);
  }
}

function planted(real: Perform): Perform {
  return (task, news) => {
    if (task.kind !== 'solve' || task.effort === 'quick') return real(task, news);
    const mum = { ...news, improved: () => {} };
    const [what = '', ms] = task.moulding.split('-');
    switch (what) {
      case 'exit':
        if (ms !== 'once') process.exit(7);
        if (task.start !== null) return real(task, mum);
        break;
      case 'mute':
        news.read(0);
        return spin();
      case 'slow':
        stand(Number(ms));
        return real(task, news);
      case 'memory':
        return eat();
      case 'off':
        return eatOffHeap();
      case 'wait':
      case 'hang':
        break;
      default:
        return real(task, news);
    }
    const answer = real(task, mum);
    if (!('proof' in answer)) return answer;
    news.improved({ ...answer, sealed: answer.sealed });
    if (what === 'exit') process.exit(7);
    stand(what === 'hang' ? Number.POSITIVE_INFINITY : Number(ms));
    return answer;
  };
}

serve(() => planted(performer(createEngine({ highs: highsRuntime }))));
