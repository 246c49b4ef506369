/** A round of a shop (see `shop-round.ts`) in a process of its own: argv holds URL, prefix, and the prefix of a copy. */
import { shopRound } from './shop-round.js';

const [url = '', prefix = '', copy = ''] = process.argv.slice(2);
await shopRound(url, prefix, copy);
process.exit(0);
