/** A solver process: started by the pool in src/processes, never by hand. */
import { performer } from '../src/processes/solver/perform.js';
import { serve } from '../src/processes/solver/serve.js';
import { createEngine } from '../src/solve/engine.js';

await serve(async () => performer(await createEngine()));
