export function docsPage(document: unknown): string {
  return `<pre>${JSON.stringify(document).length}</pre>`;
}
