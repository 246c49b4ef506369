/** A solver process: started by the pool in src/run, never by hand. */
import { performer } from '../src/run/perform.js';
import { serve } from '../src/run/serve.js';
import { createEngine } from '../src/solve/engine.js';

await serve(async () => performer(await createEngine()));
