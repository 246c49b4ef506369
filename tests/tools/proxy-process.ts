/** A `SilentProxy` in a process of its own, for a parent whose own work would make it slow: argv holds the port of Redis. */
import { SilentProxy } from './proxy.js';

const proxy = await SilentProxy.to(Number(process.argv[2]));
process.on('message', () => proxy.silence());
process.on('disconnect', () => process.exit(0));
process.send?.(proxy.port);
