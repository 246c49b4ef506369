/** A thread of the door: started by `pool.ts`, never by hand. */
import { workerData } from 'node:worker_threads';
import { move } from 'piscina';
import { type Client, createClient } from '../../queue/client/client.js';
import { checked, railLengths, recutMade, recutMadeOf, sawChecked, storedRecut } from './calculations.js';
import { submittedCsv } from './csv.js';
import { labelsOf, listOf, recutIn, resultIn } from './forms.js';
import { cutTold, delivered } from './rack.js';
import { type HeavySetting, type HeavyTask, heavyFailure } from './tasks.js';

const setting = workerData as HeavySetting;
const clients = new Map<string, Client>();

function clientOf(shop: string): Client {
  const known = clients.get(shop);
  if (known !== undefined) return known;
  const made = createClient({ ...setting, prefix: shop });
  clients.set(shop, made);
  return made;
}

async function done(task: HeavyTask): Promise<string> {
  switch (task.do) {
    case 'submit':
      return JSON.stringify(await clientOf(task.shop).submit(task.body, task));
    case 'result':
      return resultIn(clientOf(task.shop), task);
    case 'csv':
      return submittedCsv(clientOf(task.shop), task);
    case 'labels':
      return labelsOf(clientOf(task.shop), task, task.texts);
    case 'list':
      return listOf(clientOf(task.shop), task, task.kind);
    case 'recutPage':
      return recutIn(clientOf(task.shop), storedRecut(task.body), task);
    case 'recutOf':
      return recutMadeOf(clientOf(task.shop), { ...task, retention: setting.retention });
    case 'cut':
      return cutTold(clientOf(task.shop), task, task.recut);
    case 'delivery':
      return delivered(clientOf(task.shop), task);
    case 'recut':
      return recutMade(task.body, task.form);
    case 'check':
      return checked(task.body, task.form);
    case 'saw':
      return sawChecked(task.body, task.form);
    case 'rails':
      return railLengths(task.body);
    default:
      return task satisfies never;
  }
}

export default async function perform(task: HeavyTask): Promise<unknown> {
  try {
    return move(new TextEncoder().encode(await done(task)));
  } catch (error) {
    return heavyFailure(error);
  }
}
