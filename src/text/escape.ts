/** Text escaped for XML, also between quotes. */
const NAMED: Readonly<Record<string, string>> = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' };

export function escaped(given: string): string {
  return given.replaceAll(/[&<>"]/g, (sign) => NAMED[sign]!);
}
