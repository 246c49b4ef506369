// Other servers that speak Redis's protocol, for the tests: the next Debian's Redis and Valkey, unpacked with the
// libraries they need into a folder of their own, where this machine has apt. Nothing is installed. Without them the
// tests use the installed server alone.
import { spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, readdirSync, writeFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const FOLDER = join(ROOT, 'node_modules/.cache/pairstop-servers');
const RELEASE = 'trixie';
const PACKAGES = [
  ...['redis-tools', 'valkey-tools', 'redis-server', 'valkey-server', 'libc6', 'libssl3t64', 'liblzf1'],
  ...[
    'libjemalloc2',
    'liblua5.1-0',
    'lua-cjson',
    'libsystemd0',
    'libatomic1',
    'libhiredis1.1.0',
    'libstdc++6',
  ],
  ...['libgcc-s1', 'libcap2', 'libzstd1', 'zlib1g', 'libgcrypt20', 'liblz4-1', 'liblzma5', 'libgpg-error0'],
];

const root = join(FOLDER, 'root');
if (existsSync(join(root, 'usr/bin/valkey-server'))) process.exit(0);
const has = (command) => spawnSync('sh', ['-c', `command -v "${command}"`]).status === 0;
if (!has('apt-get') || !has('dpkg-deb')) {
  console.error('No apt here: the tests use the installed Redis alone.');
  process.exit(0);
}
// From where this machine has its own packages.
const targets = spawnSync('apt-get', ['indextargets', '--format', '$(REPO_URI)', 'Created-By: Packages']);
const source = targets.stdout
  .toString()
  .split('\n')
  .find((uri) => /\/debian\/?$/.test(uri));
if (source === undefined) {
  console.error('No Debian here: the tests use the installed Redis alone.');
  process.exit(0);
}
const apt = join(FOLDER, 'apt');
for (const folder of ['lists/partial', 'cache/archives/partial', 'parts', 'packages']) {
  mkdirSync(join(apt, folder), { recursive: true });
}
const keys = '/usr/share/keyrings/debian-archive-keyring.gpg';
const signed = existsSync(keys) ? `[signed-by=${keys}] ` : '';
writeFileSync(join(apt, 'sources.list'), `deb ${signed}${source} ${RELEASE} main\n`);
const options = {
  'Dir::Etc::sourcelist': join(apt, 'sources.list'),
  'Dir::Etc::sourceparts': join(apt, 'parts'),
  'Dir::State::lists': join(apt, 'lists'),
  'Dir::Cache': join(apt, 'cache'),
  'Dir::State::status': '/dev/null',
};
const given = Object.entries(options).flatMap(([name, value]) => ['-o', `${name}=${value}`]);
const run = (command, args) =>
  spawnSync(command, args, { cwd: join(apt, 'packages'), stdio: ['ignore', 'ignore', 'pipe'] });
const get = (...args) => run('apt-get', [...given, '-qq', ...args]).status === 0;
if (!get('update') || !get('download', ...PACKAGES)) {
  console.error(`Debian ${RELEASE} cannot be reached: the tests use the installed Redis alone.`);
  process.exit(0);
}
mkdirSync(root, { recursive: true });
for (const name of readdirSync(join(apt, 'packages'))) {
  run('dpkg-deb', ['-x', resolve(apt, 'packages', name), root]);
}
