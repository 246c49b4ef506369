/** The bench card, in the browser: reads its data from the page, keeps what is tapped, draws. Asks nobody for anything. */
import { render } from 'preact';
import { Card } from './card.js';
import type { CardData } from './data.js';

const data = document.getElementById('card-data');
const root = document.getElementById('card');
if (data !== null && root !== null) {
  render(<Card data={JSON.parse(data.textContent ?? 'null') as CardData} />, root);
}
