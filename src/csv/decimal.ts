/** Decimal commas, as many spreadsheets write them where cells stand between semicolons or tabs. */

const COMMA = /(\d),(\d+)/g;
/** A comma before exactly three digits may divide thousands; after a leading nought it can not. */
const EITHER = /(?:^|[^\d,])[1-9]\d{0,2},\d{3}(?!\d)/;

/** The text with decimal points, or what is allowed in its place. */
export type Pointed = { readonly text: string } | { readonly refused: string };

/** `decimalComma`: whether a comma may be the decimal sign, since the separator is another. */
export function pointed(text: string, decimalComma: boolean): Pointed {
  if (!/\d,\d/.test(text)) return { text };
  if (EITHER.test(text)) {
    const [as, without] = [text.replace(',', '.'), text.replace(',', '')];
    return { refused: `${JSON.stringify(as)} or ${JSON.stringify(without)}: this comma could mean either` };
  }
  const point = text.replace(COMMA, '$1.$2');
  if (decimalComma) return { text: point };
  return {
    refused: `a decimal point in a file whose cells stand between commas: write ${JSON.stringify(point)}`,
  };
}
