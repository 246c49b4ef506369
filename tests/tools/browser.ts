/** Debian's Chromium, one for a file of tests, that lets no request through but that of the page itself. */
import { existsSync } from 'node:fs';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { delimiter, join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { type Browser, type BrowserContext, chromium, type Page } from 'playwright-core';

const ARGUMENTS = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
  '--disable-dev-shm-usage',
];

/** As `ensure-tools.mjs` looks for it. */
function chromiumPath(): string {
  const names = ['chromium', 'chromium-browser', 'google-chrome'];
  const given = process.env.PAIRSTOP_CHROMIUM;
  if (given !== undefined && given !== '') return given;
  const folders = (process.env.PATH ?? '').split(delimiter);
  const paths = names.flatMap((name) => folders.map((folder) => join(folder, name)));
  const found = paths.find((path) => existsSync(path));
  if (found === undefined) throw new Error('no Chromium: node tests/tools/ensure-tools.mjs installs one');
  return found;
}

export interface Opened {
  readonly page: Page;
  /** Everything asked for beside the page itself, and every word on the console. */
  readonly asked: string[];
  readonly said: string[];
}

export class TestBrowser {
  #browser: Browser | null = null;
  #context: BrowserContext | null = null;
  #folder = '';

  async start(): Promise<void> {
    this.#folder = await mkdtemp(join(tmpdir(), 'pairstop-pages-'));
    this.#browser = await chromium.launch({ executablePath: chromiumPath(), args: ARGUMENTS });
    this.#context = await this.#browser.newContext({ viewport: { width: 1024, height: 768 } });
  }

  async stop(): Promise<void> {
    await this.#browser?.close();
    await rm(this.#folder, { recursive: true, force: true });
  }

  /** Opens the text of a page as a file. */
  async open(name: string, html: string): Promise<Opened> {
    const path = join(this.#folder, name);
    await writeFile(path, html);
    const page = await this.#context!.newPage();
    const own = pathToFileURL(path).href;
    const [asked, said]: [string[], string[]] = [[], []];
    await page.route('**/*', async (route) => {
      if (route.request().url() === own) return route.continue();
      asked.push(route.request().url());
      return route.abort();
    });
    page.on('console', (message) => said.push(message.text()));
    page.on('pageerror', (error) => said.push(error.message));
    page.on('dialog', async (dialog) => {
      said.push(`dialog: ${dialog.message()}`);
      await dialog.dismiss();
    });
    await page.goto(own);
    return { page, asked, said };
  }
}
