/** Batches and comparisons: the same job in two kinds, so the same routes for both. */
import type { DoorApp, DoorContext } from '../../context.js';
import { addDocuments } from './documents.js';
import { addEvents } from './events.js';
import { KINDS } from './kinds.js';
import { addStates } from './states.js';
import { addSubmit } from './submit.js';

export function addBatchRoutes(app: DoorApp, context: DoorContext): void {
  for (const kind of KINDS) {
    addSubmit(app, context, kind);
    addStates(app, context, kind);
    addDocuments(app, context, kind);
    addEvents(app, context, kind);
  }
}
