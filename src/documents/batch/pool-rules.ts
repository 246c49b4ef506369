/** The rules of pooled batches: every order line belongs to one batch, and nothing waits for two things. */
import { byId, idsOnce } from '../../read/ids.js';
import type { InputProblems } from '../../read/problems.js';
import type { SoundBatch } from './schema.js';

export function poolRules({ batches, frames, options }: SoundBatch, problems: InputProblems): void {
  if (options?.pool === true && options.notBefore !== undefined) {
    problems.add(['options', 'notBefore'], 'a moment, or pool true: the pool has its own time');
  }
  if (batches === undefined || batches.length === 0) return;
  if (options?.pool === true) {
    problems.add(['options', 'pool'], 'false, where batches of the pool are listed');
  }
  idsOnce({ batches }, problems);
  const known = byId(frames);
  const taken = new Set<string>();
  for (const [i, batch] of batches.entries()) {
    for (const [j, line] of (batch?.lines ?? []).entries()) {
      const frame = line?.frame;
      if (frame === undefined) continue;
      const path = ['batches', i, 'lines', j, 'frame'];
      if (!known.has(frame)) problems.add(path, 'the id of one of the frames');
      else if (taken.has(frame)) problems.add(path, 'each frame in one batch');
      taken.add(frame);
    }
  }
  for (const [i, frame] of (frames ?? []).entries()) {
    if (frame?.id !== undefined && !taken.has(frame.id)) {
      problems.add(['frames', i, 'id'], 'a frame of one of the batches');
    }
  }
}
