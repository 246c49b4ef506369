/** The supply chain: every package of the lock file has a digest, what is shipped a permissive licence; npm's own SBOM. */
import { execFileSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const ALLOWED = new Set([
  'MIT',
  'ISC',
  'Apache-2.0',
  'BSD-2-Clause',
  'BSD-3-Clause',
  '0BSD',
  'Unlicense',
  'BlueOak-1.0.0',
  'CC0-1.0',
  'MIT-0',
]);

const { packages } = JSON.parse(readFileSync('package-lock.json', 'utf8'));
const faults = [];
for (const [path, { link, integrity }] of Object.entries(packages)) {
  if (path === '' || link === true) continue;
  if (!/^sha512-/.test(integrity ?? '')) faults.push(`${path}: no SHA-512 in the lock file`);
}

const sbom = execFileSync('npm', ['sbom', '--omit=dev', '--sbom-format=cyclonedx'], { maxBuffer: 2 ** 28 });
const file = join(tmpdir(), 'pairstop-sbom.json');
writeFileSync(file, sbom);
const { components } = JSON.parse(sbom.toString());
const allows = (text) =>
  text
    .replace(/[()]/g, '')
    .split(/ OR /)
    .some((part) => part.split(/ AND /).every((one) => ALLOWED.has(one.trim())));
for (const { name, version, licenses = [] } of components) {
  const texts = licenses.map(({ license, expression }) => expression ?? license?.id ?? license?.name ?? '');
  if (texts.length === 0 || !texts.every(allows))
    faults.push(`${name} ${version}: licence ${texts.join(', ') || 'not said'}`);
}

for (const fault of faults) console.error(fault);
console.log(
  `${components.length} packages shipped, ${Object.keys(packages).length - 1} in the lock file; SBOM: ${file}`,
);
process.exit(faults.length === 0 ? 0 : 1);
