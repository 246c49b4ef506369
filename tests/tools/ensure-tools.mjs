// Before the tests: a Redis server and a Chromium must be there. Installs what is missing from the system's packages
// where that needs no password.
import { spawnSync } from 'node:child_process';

const NEEDED = [
  { what: 'redis-server', commands: ['redis-server'], apt: 'redis-server', brew: 'redis' },
  { what: 'openssl', commands: ['openssl'], apt: 'openssl', brew: 'openssl' },
  {
    what: 'Chromium',
    commands: ['chromium', 'chromium-browser', 'google-chrome'],
    apt: 'chromium',
    brew: '--cask chromium',
    // Any other build of it, by its path.
    given: process.env.PAIRSTOP_CHROMIUM,
  },
];

const has = (command) => spawnSync('sh', ['-c', `command -v "${command}"`]).status === 0;
const run = (command, args) =>
  spawnSync(command, args, { stdio: 'inherit', env: { ...process.env, DEBIAN_FRONTEND: 'noninteractive' } });
const there = ({ commands, given }) => (given ? has(given) : commands.some(has));

let missing = NEEDED.filter((one) => !there(one));
if (missing.length > 0) {
  const root = process.getuid?.() === 0;
  const sudo = !root && has('sudo') && spawnSync('sudo', ['-n', 'true']).status === 0;
  if (has('apt-get') && (root || sudo)) {
    console.error(
      `${missing.map(({ what }) => what).join(' and ')} missing; installing from the system packages`,
    );
    const apt = (...args) => (root ? run('apt-get', args) : run('sudo', ['-n', 'apt-get', ...args]));
    apt('update', '-qq');
    apt('install', '-y', '-qq', '--no-install-recommends', ...missing.map((one) => one.apt));
  }
  missing = missing.filter((one) => !there(one));
}
if (missing.length > 0) {
  const names = missing.map(({ what }) => what).join(' and ');
  const line = has('brew')
    ? missing.map(({ brew }) => `brew install ${brew}`).join(' && ')
    : `sudo apt-get install -y ${missing.map(({ apt }) => apt).join(' ')}`;
  console.error(
    `The tests need ${names}, which ${missing.length === 1 ? 'is' : 'are'} not installed. Type:\n\n    ${line}\n`,
  );
  process.exit(1);
}
