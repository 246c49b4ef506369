#!/usr/bin/env node
/** The `pairstop` command. Exit 0: done; 2: the input is refused; 3: stock is short; 1: anything else. */
import { Command } from 'commander';
import { VERSION } from '../version.js';
import { addCompareCommand } from './compare-command.js';
import { addDoorCommands } from './door-commands.js';
import { endOf, typedOf } from './ending.js';
import { endWithParent } from './kept.js';
import { addNightCommands } from './night/night-commands.js';
import { addQuoteCommand } from './night/quote-command.js';
import { addListCommand } from './operate/list-command.js';
import { addOperateCommands } from './operate/operate-commands.js';
import { addOrderCommands } from './orders/order-commands.js';
import { addRailsCommand } from './orders/rails-command.js';
import { addPlanCommands } from './plan-commands.js';
import { addQueueCommands } from './queue-commands.js';
import { addRackCommands } from './rack/rack-commands.js';
import { addRecutCommand } from './recut-command.js';
import { addSawCommand } from './saw-command.js';

function end(code: number): void {
  process.exitCode = code;
}

const program = new Command('pairstop')
  .description(
    'Plans mitred picture frames: which sticks to buy and cut, every pair of rails from one stop setting.',
  )
  .version(VERSION)
  .configureHelp({ helpWidth: 100 })
  .exitOverride();

addPlanCommands(program, end);
addOrderCommands(program, end);
addRailsCommand(program, end);
addCompareCommand(program, end);
addSawCommand(program, end);
addRecutCommand(program, end);
addQueueCommands(program, end);
addRackCommands(program, end);
addNightCommands(program, end);
addQuoteCommand(program, end);
addListCommand(program, end);
addDoorCommands(program, end);
addOperateCommands(program, end);
for (const command of program.commands) command.exitOverride().configureHelp({ helpWidth: 100 });

// A failed write tells the one who prints; without a listener the event would end the process with a stack trace.
process.stdout.on('error', () => undefined);

endWithParent();
try {
  await program.parseAsync();
} catch (error) {
  end(endOf(error, typedOf(process.argv.slice(2))));
}
