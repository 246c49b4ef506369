/** Commands around an order: `batch` turns CSV into JSON, `new` writes example files. */
import { mkdir, stat, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { createInterface } from 'node:readline/promises';
import type { Command } from 'commander';
import { PairstopError } from '../../errors.js';
import { show } from '../../read/problems.js';
import type { Units } from '../../terms.js';
import { answer, EXIT_DONE } from '../ending.js';
import { fileError, STANDARD, writeOutput } from '../files.js';
import type { OrderInput } from './order-choices.js';
import { addOrderOptions, type OrderOptions, withOrder } from './order-options.js';

async function batch({ document }: OrderInput, { out }: { readonly out?: string }): Promise<number> {
  await writeOutput(out ?? STANDARD, `${JSON.stringify(document, null, 2)}\n`);
  return EXIT_DONE;
}

interface NewOptions {
  readonly units?: string;
  readonly json?: boolean;
}

function unitsNamed(text: string): Units {
  const units = text.trim().toLowerCase();
  if (units === 'in' || units === 'mm') return units;
  throw new PairstopError('PS_USAGE', `--units: given ${show(text)}; allowed: in, mm`);
}

/** Asked on a terminal only: a script must never wait for an answer. */
async function unitsOf({ units, json }: NewOptions): Promise<Units> {
  if (units !== undefined) return unitsNamed(units);
  if (json === true || !process.stdin.isTTY || !process.stdout.isTTY) return 'in';
  const ask = createInterface({ input: process.stdin, output: process.stdout });
  try {
    const given = await ask.question('Units, in or mm? [in] ');
    return given.trim() === '' ? 'in' : unitsNamed(given);
  } finally {
    ask.close();
  }
}

interface ExampleText {
  readonly name: string;
  readonly text: string;
}

async function examples(units: Units, folder: string): Promise<readonly ExampleText[]> {
  const { tableNamed } = await import('../../orders/columns.js');
  const { exampleFiles } = await import('../../orders/example.js');
  const { readOrderFiles } = await import('../../orders/order.js');
  const files = exampleFiles(units, folder);
  const tables = files.flatMap(({ name, text }) => {
    const table = tableNamed(name.replace(/\.csv$/, ''));
    return table === null ? [] : [{ name, bytes: Buffer.from(text), table }];
  });
  const { document } = readOrderFiles(tables, { id: 'order' });
  return [...files, { name: 'order.json', text: `${JSON.stringify(document, null, 2)}\n` }];
}

async function create(folder: string, options: NewOptions): Promise<number> {
  const files = await examples(await unitsOf(options), folder);
  const there: string[] = [];
  for (const { name } of files)
    if ((await stat(join(folder, name)).catch(() => null)) !== null) there.push(name);
  if (there.length > 0) {
    const problems = there.map((name) => ({
      path: join(folder, name),
      given: 'a file that is there already',
      allowed: 'a folder without it: nothing is overwritten',
    }));
    throw new PairstopError(
      'PS_FILE',
      `${folder} has ${there.join(', ')} already; nothing is written`,
      problems,
    );
  }
  try {
    await mkdir(folder, { recursive: true });
    for (const { name, text } of files) await writeFile(join(folder, name), text, { flag: 'wx' });
  } catch (error) {
    throw fileError(folder, 'written', error);
  }
  const names = files.map(({ name }) => name);
  const text = `${folder}: ${names.join(', ')}\nPlan it:  pairstop plan ${folder}\n`;
  return answer('new', options.json, EXIT_DONE, { folder, files: names }, text);
}

export function addOrderCommands(program: Command, end: (code: number) => void): void {
  addOrderOptions(program.command('batch'))
    .summary('turn an order in CSV into a batch in JSON')
    .description(
      'Turns an order in CSV into a batch in JSON. The order is one table a file, or sections [frames], [mouldings], [rack], [offers], [saw] in one file. Header words are the fields of the batch in any order and case; a header may name a unit, "width (in)". Exit 2: every problem, with file, line and column.',
    )
    .option('--out <file>', 'write it to a file')
    .option('--json', 'print refusals as JSON too (the batch always is)')
    .action(async (path: string, options: OrderOptions & { out?: string }) =>
      end(await withOrder(path, options, (order) => batch(order, options))),
    );
  program
    .command('new')
    .summary('example files of an order')
    .description(
      'Writes a small order in CSV with remarks, and as JSON, into a folder. Nothing is overwritten.',
    )
    .argument('<folder>', 'the folder; made if it does not exist')
    .option('--units <units>', 'in or mm')
    .option('--json', 'what was written, as JSON')
    .action(async (folder: string, options: NewOptions) => end(await create(folder, options)));
}
