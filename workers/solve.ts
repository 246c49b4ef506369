/** A solver process: started by the pool in src/processes, never by hand. */
import { highsRuntime } from '../src/processes/solver/load-highs.js';
import { performer } from '../src/processes/solver/perform.js';
import { serve } from '../src/processes/solver/serve.js';
import { createEngine } from '../src/solve/engine.js';

serve(() => performer(createEngine({ highs: highsRuntime })));
