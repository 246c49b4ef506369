// The highs package's types name this; neither the ES2023 library nor Node's own types declare it.
declare namespace WebAssembly {
  type Module = object;
}
