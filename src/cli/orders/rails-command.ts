/** `pairstop rails 16x20`: the rails of one frame. */
import type { Command } from 'commander';
import type { RailsOptions } from './rails.js';

export function addRailsCommand(program: Command, end: (code: number) => void): void {
  program
    .command('rails')
    .summary('how long the rails of a frame are')
    .description(
      'The rails of one frame, its outside, rabbet and sight size, and how much moulding it takes. Lengths may say their unit: 40.5cm, "16 3/8 in".',
    )
    .argument('<size>', '16x20, "16 3/8 x 20", "405x500 mm", or of a regular frame "6 sides of 9"')
    .option('--face <length>', 'width of the moulding across the front')
    .option('--rabbet <length>', 'how far its lip reaches over the glass')
    .option('--measured-by <what>', 'what the size is of: glass, rabbet, sight, outside', 'glass')
    .option('--play <length>', 'what the rabbet size exceeds the glass by (1/8 in)')
    .option('--mouldings <file>', 'CSV: take face, rabbet and end trim from here')
    .option('--moulding <id>', 'which moulding of that file')
    .option(
      '--units <units>',
      'in or mm: what a number without a unit means (the unit that others name, or in)',
    )
    .option('--kerf <length>', 'what the blade removes (1/8 in)')
    .option('--recut <length>', 'what a joint loses beside the kerf (0)')
    .option('--stop-step <length>', 'the scale of the stop (1/32 in, or 0.5 mm)')
    .option('--end-trim <length>', 'lost at each end of a stick (0)')
    .option('--reversible', 'flat stock that may be flipped')
    .option('--json', 'as JSON')
    .action(async (size: string, options: RailsOptions) => {
      const { rails } = await import('./rails.js');
      end(await rails(size, options));
    });
}
