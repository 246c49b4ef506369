/** A solver process: started by the pool in src/run, never by hand. */
import { performer } from '../src/run/solver/perform.js';
import { serve } from '../src/run/solver/serve.js';
import { createEngine } from '../src/solve/engine.js';

await serve(async () => performer(await createEngine()));
