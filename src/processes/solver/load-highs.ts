/** HiGHS, loaded when it is first asked for: few orders ever do, and loading takes 70 ms and 20 MB. */
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { dirname } from 'node:path';
import process from 'node:process';
import { compileFunction, createContext, runInContext } from 'node:vm';
import type { Highs } from 'highs';

/** What the library takes from its surroundings, beside what a module has. */
const AROUND = {
  ...{ process, performance, WebAssembly, console, URL, TextDecoder, TextEncoder, setTimeout, clearTimeout },
  ...{
    Int8Array,
    Int16Array,
    Int32Array,
    BigInt64Array,
    Uint8Array,
    Uint16Array,
    Uint32Array,
    BigUint64Array,
  },
  ...{
    Float32Array,
    Float64Array,
    ArrayBuffer,
    Array,
    Object,
    Map,
    Set,
    WeakMap,
    Math,
    Date,
    Number,
    BigInt,
  },
  ...{ Error, TypeError, RangeError, FinalizationRegistry },
};

interface Loading {
  highs?: Highs;
  reason?: unknown;
}

/**
 * The search asks in the midst of its work and cannot wait, but the package gives its library by a promise. Nothing in
 * there really waits once its WebAssembly is compiled on the spot; so it runs in a context whose promises are settled
 * before `runInContext` returns (`microtaskMode`). It gets our own types, so that its arrays are ours.
 */
function load(): Highs {
  const require = createRequire(import.meta.url);
  const file = require.resolve('highs');
  const parsingContext = createContext({}, { microtaskMode: 'afterEvaluate' });
  const names = [
    'require',
    'module',
    'exports',
    '__filename',
    '__dirname',
    'globalThis',
    ...Object.keys(AROUND),
  ];
  const module = { exports: {} };
  const body: unknown = compileFunction(readFileSync(file, 'utf8'), names, {
    filename: file,
    parsingContext,
  });
  const own = [require, module, module.exports, file, dirname(file), globalThis, ...Object.values(AROUND)];
  (body as (...given: unknown[]) => void)(...own);
  const loading: Loading = {};
  const options = {
    instantiateWasm(imports: WebAssembly.Imports, done: (instance: WebAssembly.Instance) => void): object {
      const compiled = new WebAssembly.Module(readFileSync(require.resolve('highs/runtime')));
      done(new WebAssembly.Instance(compiled, imports));
      return {};
    },
  };
  // Its own callbacks too must be of that context: those of ours would wait for our turn to end.
  Object.assign(parsingContext, { loading, options, create: module.exports });
  runInContext(
    'create(options).then((highs) => { loading.highs = highs; }, (reason) => { loading.reason = reason; })',
    parsingContext,
  );
  if (loading.highs === undefined) throw new Error('HiGHS cannot be loaded', { cause: loading.reason });
  return loading.highs;
}

let loaded: Highs | null = null;

/** Once a process. */
export function highsRuntime(): Highs {
  loaded ??= load();
  return loaded;
}
