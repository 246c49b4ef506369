/** A way to Redis that can fall silent: connections stay open and nothing passes any more. New ones work. */
import { once } from 'node:events';
import { connect, createServer, type Server, type Socket } from 'node:net';

export class SilentProxy {
  readonly #server: Server;
  readonly #pairs = new Set<readonly [Socket, Socket]>();
  /** Connections opened since the start. */
  opened = 0;
  port = 0;

  private constructor(to: number) {
    this.#server = createServer((from) => {
      this.opened += 1;
      const there = connect(to, '127.0.0.1');
      const pair = [from, there] as const;
      this.#pairs.add(pair);
      for (const [one, other] of [
        [from, there],
        [there, from],
      ] as const) {
        one.on('data', (chunk) => other.write(chunk));
        one.on('error', () => {});
        one.on('close', () => {
          other.destroy();
          this.#pairs.delete(pair);
        });
      }
    });
  }

  static async to(port: number): Promise<SilentProxy> {
    const proxy = new SilentProxy(port);
    proxy.#server.listen(0, '127.0.0.1');
    await once(proxy.#server, 'listening');
    const address = proxy.#server.address();
    if (address === null || typeof address === 'string') throw new Error('no port');
    proxy.port = address.port;
    return proxy;
  }

  get url(): string {
    return `redis://127.0.0.1:${this.port}`;
  }

  /** Nothing passes on the connections there are; none is told. */
  silence(): void {
    for (const sockets of this.#pairs)
      for (const socket of sockets) socket.removeAllListeners('data').resume();
  }

  async end(): Promise<void> {
    for (const sockets of this.#pairs) for (const socket of sockets) socket.destroy();
    this.#server.close();
    await once(this.#server, 'close');
  }
}
