/** A printed page as a reader of PDF sees it: its words, and where they stand, in points from the top left. */
import { getDocumentProxy } from 'unpdf';

/** As pdf.js tells it; marks without text have only a kind. */
interface PdfItem {
  readonly str?: string;
  readonly transform?: readonly number[];
  readonly width?: number;
  readonly height?: number;
  readonly hasEOL?: boolean;
}

export interface PrintedWord {
  readonly text: string;
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
}

export interface PrintedPage {
  readonly width: number;
  readonly height: number;
  readonly text: string;
  readonly words: readonly PrintedWord[];
}

export async function printedPages(pdf: Uint8Array): Promise<readonly PrintedPage[]> {
  const document = await getDocumentProxy(new Uint8Array(pdf));
  const pages: PrintedPage[] = [];
  for (let n = 1; n <= document.numPages; n++) {
    const page = await document.getPage(n);
    const { width, height } = page.getViewport({ scale: 1 });
    const items = (await page.getTextContent()).items as readonly PdfItem[];
    const words = items.flatMap(
      ({ str = '', transform = [], width: wide = 0, height: high = 0 }): PrintedWord[] => {
        if (str.trim() === '') return [];
        const [, , , , x = 0, y = 0] = transform;
        return [{ text: str, left: x, right: x + wide, top: height - y - high, bottom: height - y }];
      },
    );
    const text = items.map(({ str = '', hasEOL }) => str + (hasEOL === true ? '\n' : '')).join('');
    pages.push({ width, height, text, words });
  }
  await document.destroy();
  return pages;
}
