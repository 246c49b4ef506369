import { describe, expect, it } from 'vitest';
import { printed } from '../../src/text/page.js';
import { visible, visibleLines } from '../../src/text/visible.js';

const HOSTILE = [
  '\u001b[31mred',
  '\u009b2J',
  'a\rb',
  'a\u202eb',
  'a\u200bb',
  '\u2028',
  '\u0007',
  '\udb40\udc41',
  'x\ud800',
];

describe('text made safe to print', () => {
  it('leaves nothing that moves a cursor, changes a colour, turns or hides text', () => {
    for (const text of HOSTILE) {
      for (const safe of [visible(text), visibleLines(text), printed([text]).trimEnd()]) {
        expect(safe).not.toMatch(/[\p{Cc}\p{Cf}\p{Cs}\p{Zl}\p{Zp}]/u);
      }
    }
    expect(visible('\u001b[1m')).toBe('\\u001b[1m');
  });

  it('leaves a page its lines, and JSON its meaning', () => {
    expect(visibleLines('a\r\nb\n\tc')).toBe('a\r\nb\n\tc');
    const value = { id: HOSTILE.join(' ') };
    expect(JSON.parse(visibleLines(JSON.stringify(value)))).toEqual(value);
  });
});
