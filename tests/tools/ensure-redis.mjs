// Before the tests: a Redis server must be there. Installs it from the system's packages where that needs no password.
import { spawnSync } from 'node:child_process';

const has = (command) => spawnSync('sh', ['-c', `command -v ${command}`]).status === 0;
const run = (command, args) =>
  spawnSync(command, args, { stdio: 'inherit', env: { ...process.env, DEBIAN_FRONTEND: 'noninteractive' } });

if (!has('redis-server')) {
  const root = process.getuid?.() === 0;
  const sudo = !root && has('sudo') && spawnSync('sudo', ['-n', 'true']).status === 0;
  if (has('apt-get') && (root || sudo)) {
    console.error('redis-server is missing; installing it from the system packages');
    const apt = (...args) => (root ? run('apt-get', args) : run('sudo', ['-n', 'apt-get', ...args]));
    apt('update', '-qq');
    apt('install', '-y', '-qq', '--no-install-recommends', 'redis-server');
  }
  if (!has('redis-server')) {
    const line = has('brew') ? 'brew install redis' : 'sudo apt-get install -y redis-server';
    console.error(`The tests need redis-server, which is not installed. Type:\n\n    ${line}\n`);
    process.exit(1);
  }
}
